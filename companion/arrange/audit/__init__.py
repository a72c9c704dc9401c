"""Audits of an arrangement: what a teacher would count, as figures with targets."""
