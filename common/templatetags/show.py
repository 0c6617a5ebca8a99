"""Knows how a quantity, a verdict and money are printed."""

from django import template

register = template.Library()
