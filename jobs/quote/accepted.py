"""The one signal that jobs sends to the rest of the project: a customer accepted.

A signal keeps the direction of imports: the install record opens itself, jobs never imports it.
Receivers run inside the accepting transaction; if one fails, the acceptance fails with it.
"""

from django.dispatch import Signal

quote_accepted = Signal()  # sends: quote, at
