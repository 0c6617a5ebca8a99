"""Knows every change of an install record that has a rule: who may, what follows, what is logged."""
