"""Finding people, houses and telephones, slips forgiven."""
