"""One finding for one cause: what belongs together is told once, and nothing is lost."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import silhouette3d
from silhouette3d.base.codes import CODES
from silhouette3d.base.quantities import Quantity
from silhouette3d.checks.causes import culprit, one_for_each_cause
from silhouette3d.checks.finding import Finding, Place, Severity
from silhouette3d.checks.fit import stock_mismatch
from silhouette3d.geometry.stock import Stock
from tests.guard.imports import ROOT
from tests.support.checking import advice, message
from tests.support.command import Run, run
from tests.support.shapes import profile, rect

__all__ = ["run"]

FAULTY = sorted(path.name for path in (ROOT / "samples" / "faulty").iterdir())


def thin(
    thickness: float,
    x: float,
    walls: tuple[str, ...] = ("front", "right"),
    severity: Severity = "warning",
) -> Finding:
    return Finding(
        "thin-section",
        severity,
        others=walls,
        places=(Place((x, 0.0, 0.0)),),
        quantities={
            "thickness": Quantity(thickness, "length"),
            "limit": Quantity(1.5, "length"),
            "area": Quantity(10.0, "area"),
        },
        facts={"walls": walls},
    )


def offcut(cut: int, mass: float, *, severity: Severity = "warning") -> Finding:
    return Finding(
        "loose-offcut",
        severity,
        f"view {cut}",
        stage=cut,
        places=(Place((mass, 0.0, 0.0)),),
        quantities={
            "mass": Quantity(mass, "mass"),
            "largest": Quantity(mass, "mass"),
            "size": Quantity((10.0, 10.0, 10.0), "length"),
        },
        facts={"is_last": severity == "note"},
    )


def mismatch(one: str, other: str, axis: str, off: float) -> Finding:
    return Finding(
        "extent-mismatch",
        "warning",
        one,
        (other,),
        places=(Place((0.0, 0.0, 0.0)),),
        quantities={
            "off": Quantity(off, "length"),
            "limit": Quantity(0.1, "length"),
            "extent": Quantity((0.0, 10.0), "length"),
            "other_extent": Quantity((0.0, 10.0 + off), "length"),
            "shift": Quantity((0.0, 0.0), "length"),
        },
        facts={"axis": axis, "shift_cures": False},
    )


def every(findings: Iterable[Finding]) -> list[Finding]:
    return [one for found in findings for one in found.each]


def test_a_mirrored_pair_is_one() -> None:
    one, two, other = thin(1.0, 5.0), thin(1.0, 35.0), thin(1.2, 20.0)
    pair, alone = one_for_each_cause([one, other, two])
    assert pair.members == (one, two)
    assert [place.at[0] for place in pair.places] == [5.0, 35.0]
    assert pair.value == 1.0
    assert alone == other
    assert message(pair) == (
        "the part is 1 mm thick at (5, 0, 0) mm, over 10 mm², between walls of front and right; "
        "and 1 more like this, at (35, 0, 0) mm"
    )
    assert "0.0394 in thick at (0.197, 0, 0) in" in message(pair, "in")


@pytest.mark.parametrize(
    "other", [thin(1.0, 35.0, ("front", "top")), thin(1.0, 35.0, severity="error")]
)
def test_other_walls_or_another_severity_are_another_cause(other: Finding) -> None:
    assert one_for_each_cause([thin(1.0, 5.0), other]) == (thin(1.0, 5.0), other)


def test_the_offcuts_of_all_cuts_are_one() -> None:
    before = [offcut(1, 5.0), offcut(2, 9.0), offcut(2, 4.0)]
    last = offcut(3, 50.0, severity="note")
    loose, free = one_for_each_cause([*before, last])
    assert free == last
    assert loose.value == 18.0
    assert loose.where == (9.0, 0.0, 0.0)  # the largest
    assert message(loose) == (
        "3 offcuts, 18 g in all, come loose, 1 in cut 1 (view 1) and 2 in cut 2 (view 2); "
        "the largest 9 g, 10 × 10 × 10 mm, at (9, 0, 0) mm"
    )
    assert advice(loose) == "take them out before the next setup"


def test_slanted_views_disagree_once() -> None:
    """One outline that is too long disagrees with each other one along a direction of its own."""
    pairs = [
        mismatch("b", "a", "(0.6, 0, 0.8)", 0.4),
        mismatch("b", "c", "(0, 0.6, 0.8)", 0.3),
        mismatch("d", "c", "(0.8, 0.6, 0)", 0.2),
        mismatch("c", "a", "z", 0.5),
    ]
    slanted, upright = one_for_each_cause(pairs)
    assert upright == pairs[3]
    assert slanted.profile == culprit(pairs[:3]) == "b"
    assert set(slanted.members) == set(pairs[:3])
    assert "along 3 slanted directions, the most along (0.6, 0, 0.8), by 0.4 mm" in message(slanted)
    assert "look at b first" in advice(slanted)


def test_outlines_that_differ_alike_from_another() -> None:
    pair = [mismatch("b", "a", "z", 0.4), mismatch("c", "a", "z", 0.4)]
    (found,) = one_for_each_cause(pair)
    assert message(found) == (
        "along z 2 outlines disagree with a by 0.4 mm: b and c reach from 0 to 10 mm, "
        "a from 0 to 10.4 mm"
    )


def test_drawings_in_one_wrong_unit_are_one() -> None:
    """A block of 1 × 2 × 3 in whose drawings have numbers of inches as millimetres."""
    block = Stock((25.4, 50.8, 76.2))
    drawn = {"front": (1.0, 3.0), "right": (2.0, 3.0), "top": (1.0, 2.0)}
    found = [
        one
        for view, size in drawn.items()
        for one in stock_mismatch(
            replace(profile(view, rect(0, 0, *size), block), stock_drawn=size), 0.1
        )
    ]
    (whole,) = one_for_each_cause(found)
    assert whole.members == tuple(found)
    words = " ".join((message(whole), advice(whole)))
    assert "by a factor of 25.4" in words
    assert "front 1 × 3 mm instead of 25.4 × 76.2 mm, right 2 × 3 mm" in words
    assert "these profiles" in words


_FINDINGS = st.lists(
    st.one_of(
        st.builds(thin, st.sampled_from([0.5, 0.505, 1.0]), st.floats(0.0, 40.0)),
        st.builds(offcut, st.integers(1, 3), st.floats(0.1, 9.0)),
        st.builds(
            mismatch,
            st.sampled_from("ab"),
            st.sampled_from("cd"),
            st.sampled_from(["z", "(1, 1, 0)", "(0, 1, 1)"]),
            st.floats(0.2, 3.0),
        ),
    ),
    max_size=12,
)


@given(_FINDINGS)
def test_nothing_is_lost(findings: list[Finding]) -> None:
    found = one_for_each_cause(findings)
    assert sorted(every(found), key=repr) == sorted(findings, key=repr)
    for one in found:
        assert {member.code for member in one.each} == {one.code}
        assert {member.severity for member in one.each} == {one.severity}
        assert sorted(one.places, key=repr) == sorted(
            (place for member in one.each for place in member.places), key=repr
        )
        assert message(one)
        assert advice(one, "in")


@pytest.mark.parametrize("code", FAULTY)
def test_several_of_every_kind_have_words(code: str) -> None:
    """Each finding of the samples, as if it were there twice."""
    part = silhouette3d.load(ROOT / "samples" / "faulty" / code)
    for one in part.every_finding:
        for found in one_for_each_cause([one, one]):
            words = part.told(found)
            assert not words.message[0].isupper()
            assert not words.message.endswith(".")


def knob(folder: Path) -> Path:
    """A bar cut five times from views that are turned and tipped; one outline is too short."""
    long = "M0 0H28V14L18 24V36L28 46V60H0V46L10 36V24L0 14Z"
    short = "M0 0H28V14L15 24V36L28 46V58H0V46L13 36V24L0 14Z"
    views = [(0, 0, long), (36, 15, long), (72, -15, short), (108, 20, long), (144, 10, long)]
    text = (
        'name = "Knob"\n[stock]\nround = {diameter = 40.0, length = 70.0, along = "z"}\n'
        "density = 8.5\n[cutting]\nkerf = 0.8\n"
    )
    for i, (turned, tipped, path) in enumerate(views):
        text += (
            f'[[profile]]\nname = "v{i}"\ndrawing = "{i}.svg"\n'
            f'view = {{from = "front", turned = {turned}, tipped = {tipped}}}\n'
        )
        (folder / f"{i}.svg").write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="28mm" height="60mm" '
            f'viewBox="0 0 28 60"><path d="{path}"/></svg>'
        )
    (folder / "job.toml").write_text(text)
    return folder


def test_a_bar_of_five_slanted_cuts_can_be_worked_through(run: Run, tmp_path: Path) -> None:
    """A third of the lines that findings would take one by one; all in JSON, and with --all."""
    folder = knob(tmp_path)
    _, out, _ = run("check", folder)
    _, listed, _ = run("check", folder, "--all")
    together, apart = (json.loads(run("check", folder, "--json", *w)[1]) for w in ((), ("--all",)))
    assert len(apart["findings"]) > 50
    assert len(together["findings"]) <= 10
    assert len(listed.splitlines()) > 300
    assert len(out.splitlines()) < 90
    members = [m for one in together["findings"] for m in one["members"] or [one]]
    assert sorted(map(str, members)) == sorted(map(str, apart["findings"]))


def test_codes_of_rules_exist() -> None:
    from silhouette3d.checks.causes import RULES
    from silhouette3d.presentation.wording import several

    assert RULES.keys() <= set(CODES)
    assert several.WORDS.keys() <= RULES.keys()
