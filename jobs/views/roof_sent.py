"""Reads the layout that the roof workspace sends, and puts it on a design in memory."""

from __future__ import annotations

import json
from typing import Any

from django.shortcuts import get_object_or_404

from jobs.engine.state import DesignState
from jobs.engine.stored import designs_in_full
from jobs.models import Design
from jobs.parts.panel_model import panel_models
from jobs.views.access import ShopRequest
from jobs.workspace.drag_cache import Dragged, read_design
from jobs.workspace.edit import RoofEdit, layout_try, read_layout
from jobs.workspace.state import panel_parts


def sent_json(request: ShopRequest) -> dict[str, Any]:
    """Return the JSON object that was sent; an empty one for anything else."""
    try:
        sent = json.loads(request.body)
    except ValueError:
        return {}
    return sent if isinstance(sent, dict) else {}


def sent_edit(request: ShopRequest, design: Design, sent: dict[str, Any]) -> RoofEdit:
    """Return the layout that was sent; raise LayoutRefused for anything that cannot be right."""
    parts = panel_parts(request.shop, (panel.part for panel in design.panels.all()))
    labels = [one.label for one in design.controllers.all()]
    return read_layout(sent.get("layout"), panel_models(parts.values()), labels, design.panels.all())


def sent_design(request: ShopRequest, pk: int, sent: dict[str, Any]) -> DesignState:
    """Return a design with the layout that was sent on it; 404 and LayoutRefused as above."""
    design = get_object_or_404(designs_in_full(Design.objects.visible_to(request.user)), pk=pk)
    return tried(read_design(design), sent)


def tried(dragged: Dragged, sent: dict[str, Any]) -> DesignState:
    """Return a design with the layout that was sent on it; raise LayoutRefused as above."""
    roof = dragged.design.roof
    labels = [one.label for one in roof.controllers]
    edit = read_layout(sent.get("layout"), dragged.models, labels, roof.panels)
    return layout_try(dragged.design, edit)
