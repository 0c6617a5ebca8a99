"""Renders pages and papers, and opens their marks for quantities (``‹309 N|69 lbf›``) for the shop."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.template.backends import django as backend
from django.utils.safestring import SafeString, mark_safe

import sizing


class ShopTemplates(backend.DjangoTemplates):
    """Django's own templates; what they print speaks the units of the shop in their context."""

    def from_string(self, template_code: str) -> ShopTemplate:
        """Return a template written in code."""
        return ShopTemplate(self.engine.from_string(template_code), self)

    def get_template(self, template_name: str) -> ShopTemplate:
        """Return a template by its name; raise TemplateDoesNotExist."""
        return ShopTemplate(super().get_template(template_name).template, self)


class ShopTemplate(backend.Template):
    """One template of these."""

    def render(self, context: dict[str, Any] | None = None, request: HttpRequest | None = None) -> SafeString:
        """Return what it prints; a part without request and shop keeps its marks for the page around it."""
        text = mark_safe(super().render(context, request))  # noqa: S308 - its own
        shop = (context or {}).get("shop") or getattr(request, "shop", None)
        if shop is None and request is None:
            return text
        plain = text.replace(r"\u2039", "‹").replace(r"\u203a", "›")  # as json_script writes them
        return mark_safe(sizing.in_units(plain, getattr(shop, "units", "")))  # noqa: S308 - rendered above
