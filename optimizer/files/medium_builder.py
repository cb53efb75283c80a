"""A filter medium from its checked values; how its bed resists the water comes from its form and grain."""

from __future__ import annotations

from optimizer.files.draft import Draft, Label
from optimizer.model.parts import Medium
from optimizer.physics.arrays import Floats
from optimizer.physics.media import ergun_coefficients, fibre_coefficients, foam_coefficients, ring_coefficients

__all__ = ["build_medium"]

_MEDIUM_NEEDS = {
    "foam": ("pores",),
    "granules": ("grain", "void"),
    "rings": ("surface", "void"),
    "fibre": ("fibre", "solid"),
}


def build_medium(label: Label, draft: Draft) -> Medium | None:
    """Return the medium of a row or table, or None once what is wrong is taken in by `draft`.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"form": "foam", "pores": 20.0}, fields={}, place=str, problems=Problems())
    >>> round(build_medium(Label(id="F", name="foam"), draft).permeability_m2 * 1e7, 3)
    1.4
    """
    form = draft.text_or("form", "")
    needs = _MEDIUM_NEEDS.get(form, ())
    for name in needs:
        draft.need(name, f", but {form} needs it")
    if draft.flag("biological") and "area" not in draft.bad and draft.number_or("area", 0.0) == 0.0:
        draft.fault("area", "a biological medium needs a surface for bacteria.", draft.cure("area"))
    if draft.failed:
        return None
    permeability, inertial = _bed(form, *(draft.number(name) for name in needs))
    return Medium(
        id=label.id,
        name=label.name,
        form=form,
        permeability_m2=float(permeability),
        inertial_1m=float(inertial),
        area_m2m3=draft.number_or("area", 0.0),
        mechanical=draft.flag("mechanical"),
        biological=draft.flag("biological"),
    )


def _bed(form: str, first: float, second: float = 0.0) -> tuple[Floats, Floats]:
    """Return permeability in m2 and inertial coefficient in 1/m of the clean bed, from what its form needs."""
    if form == "foam":
        return foam_coefficients(first)
    if form == "granules":
        return ergun_coefficients(first, second)
    return ring_coefficients(first, second) if form == "rings" else fibre_coefficients(first, second)
