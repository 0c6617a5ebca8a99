"""How numbers and dates are written where it is not as Django writes them in a language."""
