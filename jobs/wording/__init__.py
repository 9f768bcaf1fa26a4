"""How figures, days, places and results are said; no Django here."""
