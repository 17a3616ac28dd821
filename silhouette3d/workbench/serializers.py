"""Forms: a session as the plain values of the protocol."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Final, cast

from silhouette3d.base.materials import all_materials
from silhouette3d.base.quantities import Scale, area_text, mass_text, size_text, volume_text
from silhouette3d.base.units import MM_PER, Unit
from silhouette3d.checks.finding import Finding
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.job.model import Job
from silhouette3d.presentation.wording import told
from silhouette3d.presentation.wording.words import Told
from silhouette3d.workbench.background_jobs import EXPORTS, Errand, Proposed
from silhouette3d.workbench.folder import MOST_BYTES
from silhouette3d.workbench.protocol import (
    CardForm,
    Choices,
    ErrandForm,
    Figures,
    FindingForm,
    FolderForm,
    JobForm,
    ProfileForm,
    ProposalForm,
    RefusedForm,
    StockForm,
    TroubleForm,
    UnitForm,
)
from silhouette3d.workbench.result import Card, Refused, Result, Trouble
from silhouette3d.workbench.session import Session

DIGITS: Final[dict[Unit, int]] = {"mm": 2, "in": 4}
"""Decimals of a coordinate that is read off the view."""


def unit_of(unit: Unit) -> UnitForm:
    """Tell how the browser writes lengths that it measures itself."""
    return {"name": unit, "per": MM_PER[unit], "digits": DIGITS[unit]}


def job_form(session: Session) -> JobForm | None:
    """Gather the job's values, in its own units, as the fields show them."""
    job = session.job
    if job is None:
        return None
    path = session.path
    return {
        "name": job.name,
        "file": path.name if path else "",
        "units": job.units,
        "unsaved": session.unsaved,
        "canUndo": session.can_undo,
        "canRedo": session.can_redo,
        "stock": _stock(job),
        "kerf": _length(job.cutting.kerf, job),
        "tabWidth": _length(job.cutting.tab_width, job),
        "thin": _length(job.checks.thin, job),
        "order": list(job.order),
        "profiles": [_profile(job, i) for i in range(len(job.profile))],
    }


def _stock(job: Job) -> StockForm:
    stock = job.declared["stock"]
    return {
        "size": stock.get("size"),
        "round": stock.get("round"),
        "material": stock.get("material"),
        "density": stock.get("density"),
    }


def _profile(job: Job, i: int) -> ProfileForm:
    declared, spec = job.declared["profile"][i], job.profile[i]
    width = _length(job.cutting.tab_width, job)
    return {
        "name": job.names[i],
        "view": declared["view"] if isinstance(declared["view"], str) else "",
        "drawing": spec.drawing,
        "layer": declared.get("layer"),
        "shift": declared.get("shift", [0.0, 0.0]),
        "turn": declared.get("turn", 0.0),
        "mirror": declared.get("mirror", False),
        "scale": declared.get("scale", 1.0),
        "datum": declared.get("datum"),
        "colour": declared.get("colour"),
        "linetype": declared.get("linetype"),
        "take": declared.get("take"),
        "open": declared.get("open"),
        "overlap": declared.get("overlap"),
        "tabs": [
            {"at": tab["at"], "width": tab.get("width", width)} for tab in declared.get("tab", [])
        ],
    }


def _length(mm: float, job: Job) -> float:
    return round(mm / MM_PER[job.units], 9)


def figures(result: Result, unit: Unit) -> Figures:
    """Write weight and size as a person reads them."""
    return {
        "mass": mass_text(result.mass, unit),
        "size": size_text(result.size, unit),
        "volume": volume_text(result.volume, unit),
        "stockMass": mass_text(result.stock_mass, unit),
        "stockSize": size_text(result.stock_size, unit),
        "centre": size_text(result.centre, unit).replace(" × ", ", "),
        "block": list(result.stock_size),
        "number": result.sequence,
    }


def card_values(card: Card, unit: Unit, before: CardForm | None) -> CardForm:
    """Write a card; take what it does not have yet from the one before it."""
    known = bool(card.shadow)
    areas = [(rule, area_text(mm2, unit)) for rule, mm2 in card.overlaps]
    added = {"known": known, "faceSize": size_text(card.face_size, unit), "areas": areas}
    form = cast("CardForm", asdict(card) | added)
    if not known and before is not None and before["name"] == card.name:
        form["shadow"], form["lost"] = before["shadow"], before["lost"]
        form["tabs"], form["path"] = before["tabs"], before["path"]
    return form


def finding_values(findings: Sequence[Finding], unit: Unit) -> list[FindingForm]:
    """List findings in words, each with its number."""
    scale = Scale(unit)
    return [_finding(i, found, told(found, scale)) for i, found in enumerate(findings, start=1)]


def _finding(number: int, found: Finding, words: Told) -> FindingForm:
    return {
        "number": number,
        "code": found.code,
        "severity": found.severity,
        "message": words.message,
        "advice": words.advice,
        "profile": found.profile,
        "where": list(found.where) if found.where is not None else None,
        "accepted": found.accepted is not None,
    }


def trouble_values(trouble: Trouble | None) -> TroubleForm | None:
    """Write what is wrong, where, and what to do."""
    if trouble is None:
        return None
    return {
        "what": trouble.what,
        "where": trouble.where,
        "todo": trouble.todo,
        "kind": trouble.kind,
    }


_OFFERS: Final[Mapping[str, str]] = {
    "layer": "layer {} alone",
    "colour": "colour {} alone",
    "linetype": "linetype {} alone",
    "open": "what closes, open lines left out",
    "take": "the silhouette of everything",
}


def refused_values(refused: Refused | None, unit: Unit) -> RefusedForm | None:
    """Write a drawing that gives no outline, and what may be declared, each with its area."""
    if refused is None:
        return None
    return {
        "profile": refused.profile,
        "box": refused.box,
        "lines": refused.lines,
        "region": refused.region,
        "marks": [asdict(mark) for mark in refused.marks],
        "counts": list(refused.counts),
        "offers": [
            {
                "key": offer.key,
                "value": offer.value,
                "words": _OFFERS[offer.key].format(offer.value),
                "area": area_text(offer.mm2, unit),
            }
            for offer in refused.offers
        ],
    }


def proposal_values(proposal: Proposed | None) -> ProposalForm | None:
    """Write what is proposed, as a sentence."""
    if proposal is None:
        return None
    return {
        "words": proposal.words,
        "nothing": proposal.changes_nothing,
        "holds": proposal.holds,
    }


def errand_values(errand: Errand | None) -> ErrandForm | None:
    """Write how an export gets on."""
    if errand is None:
        return None
    return {
        "words": errand.words,
        "state": errand.state,
        "share": errand.share,
        "file": errand.path.name if errand.path else "",
        "trouble": trouble_values(errand.trouble),
    }


def choices() -> Choices:
    """List choices: materials, views and what can be exported; the largest upload."""
    return {
        "mostBytes": MOST_BYTES,
        "materials": [
            {"name": one.name, "density": one.density_g_cm3, "family": one.family}
            for one in all_materials()
        ],
        "views": list(VIEWS),
        "exports": [
            {"kind": kind, "label": one.label, "suffixes": list(one.suffixes)}
            for kind, one in EXPORTS.items()
        ],
    }


def folder_values(session: Session) -> FolderForm:
    """List the folder, for those who begin."""
    folder = session.folder
    return {
        "path": str(folder.root),
        "jobs": folder.jobs(),
        "drawings": folder.drawings(),
        "samples": list(session.samples()),
    }
