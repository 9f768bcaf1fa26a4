"""Shock chlorination, chlorine in water, contact and taking chlorine out."""
