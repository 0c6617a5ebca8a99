"""Finds the steps of an install by what they are for, so that tests do not lean on letter codes."""

from __future__ import annotations

from typing import Any

from checklists.plan.roles import roles_of


def code_of(checklist: Any, role: str) -> str:
    """Return the code printed for the step of a role."""
    return roles_of(checklist.template_version).code(role)


def role_of(step: Any) -> str:
    """Return the role of a stored step."""
    return roles_of(step.checklist.template_version).of(step.code)


def step_of(checklist: Any, role: str, subject: str = "") -> Any:
    """Return the stored step of a role and subject."""
    return checklist.steps.get(code=code_of(checklist, role), subject=subject)
