"""Knows the one thing jobs tells the rest of the house: a customer said yes.

A signal keeps the direction of imports: the install record opens itself, jobs never imports it.
Receivers run inside the accepting transaction; if one fails, the acceptance fails with it.
"""

from django.dispatch import Signal

quote_accepted = Signal()  # sends: quote, at
