"""A session from opening to saving, with real files and the real worker."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from stl import mesh as stl_mesh

from silhouette3d.job.model import read_job
from silhouette3d.workbench import edits
from silhouette3d.workbench.background_jobs import EXPORTS, OrderProposal, Proposed, TabsProposal
from silhouette3d.workbench.result import Trouble
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.uploads import PNG
from tests.support.workbench import JOB, Loop, drawing, kerf, settled, write_job

VOLUME = 16.0 * 10.0 * 30.0
"""mm³ of the part in the test job: a block."""


@pytest.fixture
def loop() -> Loop:
    return Loop()


@pytest.fixture
def start(loop: Loop) -> Iterator[Callable[[Path], Session]]:
    """Opens sessions, and ends them."""
    opened: list[Session] = []

    def of(path: Path) -> Session:
        opened.append(Session.of(path, loop.post))
        return opened[-1]

    yield of
    for session in opened:
        session.stop()


@pytest.fixture
def session(tmp_path: Path, loop: Loop, start: Callable[[Path], Session]) -> Session:
    """On the test job, its part worked out."""
    made = start(write_job(tmp_path))
    loop.until(lambda: made.result)
    return made


def unsaved(session: Session) -> bool:
    return session.unsaved


def conflict(session: Session) -> bool:
    return session.conflict


def proposal_of(session: Session) -> Proposed | None:
    return session.proposal


def volume(session: Session) -> float:
    assert session.result is not None
    return session.result.volume


def shown(session: Session) -> bool:
    """Whether the part on screen is that of the job as it is."""
    return session.result is not None and session.result.job == session.job


def test_a_job_is_opened_and_worked_out(session: Session, loop: Loop, tmp_path: Path) -> None:
    loop.until(lambda: settled(session))
    assert session.trouble is None
    assert not session.busy
    assert volume(session) == pytest.approx(VOLUME)
    assert session.path == tmp_path / "job.toml"
    assert (unsaved(session), session.can_undo, session.can_redo) == (False, False, False)


def test_an_edit_its_undoing_and_redoing(session: Session, loop: Loop) -> None:
    assert session.edit(edits.nudge, 0, -3.0, 0.0)  # a millimetre of the outline leaves the block
    loop.until(lambda: shown(session))
    assert volume(session) == pytest.approx(VOLUME * 15 / 16)
    assert (unsaved(session), session.can_undo, session.can_redo) == (True, True, False)
    session.undo()
    loop.until(lambda: shown(session))
    assert volume(session) == pytest.approx(VOLUME)
    assert (unsaved(session), session.can_undo, session.can_redo) == (False, False, True)
    session.redo()
    loop.until(lambda: shown(session))
    assert volume(session) == pytest.approx(VOLUME * 15 / 16)
    session.redo()
    assert session.can_undo


def test_edits_in_a_run_are_undone_as_one(session: Session) -> None:
    for x in (1.0, 1.2, 1.25):
        assert session.edit_in_run("shift 0", edits.shift, 0, (x, 0.0))
    assert session.job is not None
    assert session.job.profile[0].shift == (1.25, 0.0)
    session.undo()
    assert session.job.profile[0].shift == (2.0, 0.0)


def test_two_quick_edits_end_at_the_second(session: Session, loop: Loop) -> None:
    session.edit(edits.shift, 0, (-1.0, 0.0))
    session.edit(edits.shift, 0, (-2.0, 0.0))
    loop.until(lambda: settled(session))
    assert volume(session) == pytest.approx(VOLUME * 14 / 16)


def test_a_wrong_value_is_told_and_the_job_stays(session: Session, loop: Loop) -> None:
    job = session.job
    assert not session.set_value(("cutting", "kerf"), -1)
    assert session.trouble is not None
    assert session.trouble.kind == "value"
    assert "kerf" in str(session.trouble)
    assert session.job is job
    assert not unsaved(session)
    loop.until(lambda: settled(session))
    assert session.trouble.kind == "value"  # results that arrive do not wipe it away
    assert session.set_value(("cutting", "kerf"), 1)
    assert session.trouble is None


@pytest.mark.parametrize("value", [None, "wide", [1], {}, 10**400, float("nan")])
def test_whatever_a_page_sends_becomes_a_message(session: Session, value: Any) -> None:
    """Values of wrong kinds end as trouble, not in the event loop."""
    job = session.job
    requests: list[Callable[[], object]] = [
        lambda: session.edit(edits.shift, 0, value),
        lambda: session.edit(edits.shift, 0, [value, 0.0]),
        lambda: session.edit(edits.nudge, 0, value, 0.0),
        lambda: session.edit(edits.nudge, value, 0.0, 0.0),
        lambda: session.edit(edits.remove_tab, value, 0),
        lambda: session.edit(edits.stock_block, value),
        lambda: session.edit(edits.order, value),
        lambda: session.add_tab(0, value),
        lambda: session.add_tab(value, (0.0, 0.0)),
        lambda: session.set_value(("profile", value, "scale"), 1.0),
        lambda: session.set_value(("profile", 0, "shift"), [value, value]),
        lambda: session.begin(value, value, value, value),
        lambda: session.uploads.upload(value, b""),
        lambda: session.uploads.layers(value),
        lambda: session.aside.export(value, value),
        lambda: session.open(value),
    ]
    for request in requests:
        session.shown.set_trouble(None)
        assert not request()
        assert str(trouble(session)).endswith(".")
    assert session.job is job


def trouble(session: Session) -> Trouble | None:
    return session.trouble


def test_outlines_that_leave_nothing_keep_the_last_part(session: Session, loop: Loop) -> None:
    session.edit(edits.shift, 0, (25.0, 0.0))
    loop.until(lambda: session.trouble)
    assert session.trouble is not None
    assert session.trouble.kind == "part"
    assert volume(session) == pytest.approx(VOLUME)
    session.undo()
    loop.until(lambda: shown(session) and session.trouble is None)


def test_cuts_that_cannot_be_made_leave_the_part(session: Session, loop: Loop) -> None:
    session.edit(edits.add_tab, 0, (50.0, 50.0))  # far off the outline
    loop.until(lambda: session.trouble)
    assert session.trouble is not None
    assert session.trouble.kind == "cuts"
    assert "touches no outline" in str(session.trouble)
    assert shown(session)
    loop.until(lambda: not session.busy)


def test_listeners_are_told_what_changed(session: Session, loop: Loop) -> None:
    told: list[str] = []
    end = session.subscribe(told.append)
    session.edit(kerf, 0.75)
    assert told == ["job"]
    loop.until(lambda: settled(session))
    assert told.count("result") >= 5
    session.save()
    assert told[-1] == "job"
    del told[:]
    session.unit = "in"
    session.unit = "in"
    assert told == ["unit"]
    end()
    before = list(told)
    session.undo()
    assert told == before


def test_saving_keeps_comments_and_is_not_taken_for_another_program(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    session.edit(edits.nudge, 0, 0.5, 0.0)
    assert session.save()
    assert not unsaved(session)
    assert (tmp_path / "job.toml").read_text() == JOB.replace("[2.0, 0.0]", "[2.5, 0.0]")
    job = session.job
    session.edit(kerf, 0.75)
    session.look()
    assert not conflict(session)
    session.undo()
    assert session.job is job
    assert not unsaved(session)


def test_what_is_edited_back_is_saved(session: Session) -> None:
    session.edit(kerf, 0.75)
    assert unsaved(session)
    session.edit(kerf, 0.5)
    assert not unsaved(session)


# Other programs


def test_a_job_saved_by_another_program_is_taken_in(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    (tmp_path / "job.toml").write_text(JOB.replace("[2.0, 0.0]", "[-2.0, 0.0]"))
    loop.until(lambda: volume(session) == pytest.approx(VOLUME * 14 / 16))
    assert not unsaved(session)
    assert not conflict(session)
    session.undo()  # back to what it was here
    assert unsaved(session)
    assert session.job is not None
    assert session.job.profile[0].shift == (2.0, 0.0)


def test_with_unsaved_edits_that_is_a_conflict_and_nothing_is_lost(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    theirs = JOB.replace("Bollard", "Buoy")
    session.edit(kerf, 0.75)
    (tmp_path / "job.toml").write_text(theirs)
    loop.until(lambda: conflict(session))
    assert session.job is not None
    assert session.job.cutting.kerf == 0.75
    assert not session.save()
    assert session.trouble is not None
    assert "another program" in str(session.trouble)
    assert (tmp_path / "job.toml").read_text() == theirs
    assert session.reload()
    assert not conflict(session)
    assert (session.job.name, session.job.cutting.kerf) == ("Buoy", 0.5)
    assert not unsaved(session)
    session.undo()
    assert (session.job.name, session.job.cutting.kerf) == ("Bollard", 0.75)
    assert unsaved(session)
    assert session.save()


def test_a_conflict_found_only_when_saving(session: Session, tmp_path: Path) -> None:
    """No look in between: the refusal does not depend on watching."""
    session.edit(kerf, 0.75)
    (tmp_path / "job.toml").write_text(JOB.replace("Bollard", "Buoy"))
    assert not session.save()
    assert conflict(session)
    assert session.save_beside()
    assert not conflict(session)
    assert session.path == tmp_path / "job-2.toml"
    assert session.path.read_text() == JOB.replace("= 0.5", "= 0.75")
    assert "Buoy" in (tmp_path / "job.toml").read_text()
    session.edit(kerf, 0.8)
    assert session.save()
    assert read_job(tmp_path / "job-2.toml").cutting.kerf == 0.8


def test_a_conflict_ends_when_the_other_change_is_taken_back(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    session.edit(kerf, 0.75)
    (tmp_path / "job.toml").write_text(JOB.replace("Bollard", "Buoy"))
    loop.until(lambda: conflict(session))
    (tmp_path / "job.toml").write_text(JOB)
    loop.until(lambda: not conflict(session))
    assert unsaved(session)
    assert session.save()


def test_comments_of_another_program_are_kept_and_are_no_conflict(
    session: Session, tmp_path: Path
) -> None:
    session.edit(kerf, 0.75)
    (tmp_path / "job.toml").write_text("# checked by Ada\n" + JOB)
    session.look()
    assert not conflict(session)
    assert session.save()
    expected = "# checked by Ada\n" + JOB.replace("= 0.5", "= 0.75")
    assert (tmp_path / "job.toml").read_text() == expected


def test_a_half_written_job_is_told_and_the_last_part_stays(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    (tmp_path / "job.toml").write_text(JOB[:200])
    loop.until(lambda: session.trouble)
    assert session.trouble is not None
    assert session.trouble.kind == "file"
    assert volume(session) == pytest.approx(VOLUME)
    (tmp_path / "job.toml").write_text(JOB.replace("Bollard", "Buoy"))
    loop.until(lambda: session.job and session.job.name == "Buoy")
    assert session.trouble is None


def test_a_broken_drawing_is_told_keeps_the_last_part_and_is_mended(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    whole = (tmp_path / "top.svg").read_text()
    (tmp_path / "top.svg").write_text(whole[:100])
    loop.until(lambda: session.trouble)
    assert session.trouble is not None
    assert session.trouble.kind == "part"
    assert "top.svg" in str(session.trouble)
    assert volume(session) == pytest.approx(VOLUME)
    (tmp_path / "new.svg").write_text(drawing(20, 8))
    (tmp_path / "new.svg").replace(tmp_path / "top.svg")  # as careful editors do
    loop.until(lambda: session.trouble is None)
    assert volume(session) == pytest.approx(VOLUME * 8 / 10)


def test_a_job_that_is_deleted_can_still_be_saved(session: Session, tmp_path: Path) -> None:
    (tmp_path / "job.toml").unlink()
    session.look()
    assert not conflict(session)
    session.edit(kerf, 0.75)
    assert session.save()
    assert (tmp_path / "job.toml").read_text() == JOB.replace("= 0.5", "= 0.75")


def test_a_session_on_a_broken_job_waits_until_it_is_mended(
    tmp_path: Path, loop: Loop, start: Callable[[Path], Session]
) -> None:
    path = write_job(tmp_path, "name = ")
    session = start(path)
    assert session.job is None
    assert session.trouble is not None
    loop.until(loop.waits)  # the first look at the files must not take it for mended
    loop.drain()
    assert "TOML" in str(session.trouble)
    path.write_text(JOB)
    loop.until(lambda: session.result)
    assert session.trouble is None


# Tabs, proposals


def test_tabs_are_put_where_the_cut_passes(session: Session, loop: Loop) -> None:
    """The cut runs half a kerf (0.25 mm) outside the outline, from (2, 0) to (18, 30)."""
    assert session.add_tab(0, (19.0, 12.3456789))
    assert session.job is not None
    assert session.job.profile[0].tab[0].at == pytest.approx((18.25, 12.345679))
    assert session.move_tab(0, 0, (10.0, 33.0), run="drag")
    assert session.move_tab(0, 0, (11.0, 33.0), run="drag")
    assert session.job.profile[0].tab[0].at == pytest.approx((11.0, 30.25))
    loop.until(lambda: settled(session))
    assert session.result is not None
    (mark,) = session.result.cards[0].tabs
    assert mark.at == pytest.approx((11.0, 30.25))
    assert mark.index == 0
    session.undo()
    assert session.job.profile[0].tab[0].at == pytest.approx((18.25, 12.345679))


def test_a_tab_on_a_profile_that_is_not_there_is_refused(session: Session) -> None:
    assert not session.add_tab(7, (0.0, 0.0))
    assert not session.move_tab(0, 3, (0.0, 0.0))
    assert session.trouble is not None
    assert not unsaved(session)


def test_tabs_are_proposed_and_applied_only_when_accepted(session: Session, loop: Loop) -> None:
    assert session.aside.propose_tabs()
    loop.until(lambda: proposal_of(session))
    proposal = proposal_of(session)
    assert isinstance(proposal, TabsProposal)
    assert proposal.holds
    assert not proposal.changes_nothing
    assert "top" in proposal.words
    assert not unsaved(session)
    session.refuse()
    assert proposal_of(session) is None
    assert not unsaved(session)
    session.aside.propose_tabs()
    loop.until(lambda: proposal_of(session))
    assert session.accept()
    assert proposal_of(session) is None
    assert session.job is not None
    assert len(session.job.profile[1].tab) == len(proposal.proposal.places)
    loop.until(lambda: settled(session))
    assert session.result is not None
    assert session.result.stages is not None
    assert all(stage.part_is_held for stage in session.result.stages[:-1])
    session.aside.propose_tabs()
    loop.until(lambda: proposal_of(session))
    again = proposal_of(session)
    assert again is not None
    assert again.changes_nothing
    session.undo()
    assert proposal_of(session) is None
    assert not unsaved(session)


def test_an_order_is_proposed(session: Session, loop: Loop) -> None:
    assert session.aside.propose_order()
    loop.until(lambda: proposal_of(session))
    proposal = proposal_of(session)
    assert isinstance(proposal, OrderProposal)
    assert sorted(proposal.names) == ["front", "top"]
    assert proposal.words.endswith(".")
    session.accept()
    assert session.job is not None
    assert session.job.order == proposal.names


def test_a_proposal_for_a_job_that_has_changed_since_is_dropped_and_told(
    session: Session, loop: Loop
) -> None:
    session.aside.propose_order()
    session.edit(kerf, 0.75)
    loop.until(lambda: session.errand and session.errand.state == "done")
    assert proposal_of(session) is None
    assert "out of date" in str(session.trouble)
    session.aside.propose_order()
    loop.until(lambda: proposal_of(session))
    session.accept()
    assert session.trouble is None


# Files


def test_an_export_is_written_beside_all_other_work(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    assert session.aside.export("mesh", "bollard.stl")
    loop.until(lambda: session.errand and session.errand.state == "done")
    written = stl_mesh.Mesh.from_file(str(tmp_path / "bollard.stl"))
    assert float(written.get_mass_properties()[0]) == pytest.approx(VOLUME)
    assert session.errand is not None
    assert session.errand.path == tmp_path / "bollard.stl"


def test_an_export_is_of_the_job_as_it_is_not_as_it_is_shown(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    session.edit(edits.shift, 0, (-2.0, 0.0))
    session.aside.export("mesh", "bollard.stl")
    loop.until(lambda: session.errand and session.errand.state == "done")
    written = stl_mesh.Mesh.from_file(str(tmp_path / "bollard.stl"))
    assert float(written.get_mass_properties()[0]) == pytest.approx(VOLUME * 14 / 16)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("mesh", "../bollard.stl"),
        ("mesh", "job.toml"),
        ("mesh", "front.svg"),
        ("mesh", "bollard.png"),
        ("nothing", "bollard.stl"),
        ("mesh", "there.stl"),
    ],
)
def test_an_export_that_may_not_be_is_refused_at_once(
    session: Session, tmp_path: Path, kind: str, name: str
) -> None:
    (tmp_path / "there.stl").write_text("mine")
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    assert not session.aside.export(kind, name)
    assert session.trouble is not None
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_an_export_without_a_part_fails_in_words(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    session.edit(edits.shift, 0, (25.0, 0.0))
    assert session.aside.export("mesh", "bollard.stl")
    loop.until(lambda: session.errand and session.errand.state == "failed")
    assert session.errand is not None
    assert "off the stock" in str(session.errand.trouble)
    assert not (tmp_path / "bollard.stl").exists()


def test_every_kind_of_export_has_a_label_and_a_format() -> None:
    assert len({one.label for one in EXPORTS.values()}) == len(EXPORTS)
    assert all(one.suffixes for one in EXPORTS.values())


def test_setup_drawings_come_in_a_folder(session: Session, loop: Loop, tmp_path: Path) -> None:
    session.aside.export("setups", "setups")
    loop.until(lambda: session.errand and session.errand.state in ("done", "failed"))
    assert len(list((tmp_path / "setups").glob("*.dxf"))) == 2


def test_pictures_of_the_page_are_stored(session: Session, tmp_path: Path) -> None:
    assert session.uploads.store_picture("view.png", PNG + b"...")
    assert (tmp_path / "view.png").read_bytes() == PNG + b"..."
    assert not session.uploads.store_picture("view.png", PNG)
    assert not session.uploads.store_picture("other.png", b"<script>")
    assert not session.uploads.store_picture("other.svg", PNG)
    assert not (tmp_path / "other.png").exists()


def test_uploads_are_drawings_in_the_folder(session: Session, tmp_path: Path) -> None:
    assert session.uploads.upload("side.svg", drawing(20, 30).encode()) == "side.svg"
    assert session.uploads.layers("side.svg") == [""]
    assert session.uploads.upload("side.svg", b"") is None
    assert session.uploads.upload("../side.svg", b"") is None
    assert session.trouble is not None
    assert session.uploads.layers("../front.svg") is None
    assert session.uploads.layers("none.svg") is None
    assert session.trouble is not None


def test_a_drawing_outside_the_folder_is_not_read_through_the_page(
    session: Session, loop: Loop, tmp_path: Path
) -> None:
    outside = tmp_path.parent / f"{tmp_path.name}-outside.svg"
    outside.write_text(drawing(20, 10))
    for name in (f"../{outside.name}", str(outside)):
        assert not session.edit(edits.add_profile, name, "right")
        assert not session.set_value(("profile", 1, "drawing"), name)
        assert session.trouble is not None
        assert "outside" in str(session.trouble)
    assert not unsaved(session)


def test_a_drawing_that_the_job_file_names_is_read_wherever_it_is(
    tmp_path: Path, loop: Loop, start: Callable[[Path], Session]
) -> None:
    """As the command line does; but an edit cannot name another there."""
    path = write_job(tmp_path / "job")
    (tmp_path / "job" / "top.svg").rename(tmp_path / "top.svg")
    (tmp_path / "job" / "job.toml").write_text(JOB.replace("top.svg", "../top.svg"))
    session = start(path)
    loop.until(lambda: session.result)
    assert volume(session) == pytest.approx(VOLUME)
    assert session.edit(edits.nudge, 1, 0.0, 0.1)
    assert not session.set_value(("profile", 0, "drawing"), "../other.svg")


# Beginning


def test_an_empty_start_leads_to_a_part_and_a_file(
    tmp_path: Path, loop: Loop, start: Callable[[Path], Session]
) -> None:
    session = start(tmp_path)
    assert (session.job, session.result, session.trouble) == (None, None, None)
    assert not session.edit(kerf, 1.0)
    assert session.trouble is not None
    assert not session.save()
    assert not session.aside.export("mesh", "a.stl")
    name = session.uploads.upload("top.svg", drawing(20, 10).encode())
    stock = {"size": [20, 20, 30], "material": "brass C360"}
    assert not session.begin("Buoy", "mm", stock, [{"view": "top", "drawing": "../top.svg"}])
    assert session.begin("Buoy", "mm", stock, [{"view": "top", "drawing": name, "datum": "centre"}])
    loop.until(lambda: session.result)
    assert volume(session) == pytest.approx(20 * 10 * 30)
    assert unsaved(session)
    assert not (tmp_path / "job.toml").exists()
    assert session.save()
    assert not unsaved(session)
    assert read_job(tmp_path).name == "Buoy"


def test_a_new_job_takes_no_place_of_another(
    tmp_path: Path, loop: Loop, start: Callable[[Path], Session]
) -> None:
    write_job(tmp_path)
    session = start(tmp_path)
    profiles = [{"view": "top", "drawing": "top.svg"}]
    assert session.begin("Buoy", "in", {"size": [1, 1, 1], "density": 1}, profiles)
    assert session.path == tmp_path / "job-2.toml"
    assert session.unit == "in"
    assert session.save()
    assert (tmp_path / "job.toml").read_text() == JOB


def test_a_job_in_the_folder_is_opened(session: Session, loop: Loop, tmp_path: Path) -> None:
    other = write_job(tmp_path / "other", JOB.replace("Bollard", "Buoy"))
    assert not session.open("../job.toml")
    assert not session.open("none.toml")
    assert session.job is not None
    assert session.job.name == "Bollard"
    told: list[str] = []
    session.subscribe(told.append)
    assert session.open("other/job.toml")
    assert told.count("folder") == 1
    assert "unit" not in told  # both jobs are in mm
    assert session.path == other
    assert session.folder.root == other.parent
    assert not session.can_undo
    loop.until(lambda: shown(session))


def test_the_starter_is_copied_opened_and_whole(
    tmp_path: Path, loop: Loop, start: Callable[[Path], Session]
) -> None:
    session = start(tmp_path)
    assert session.samples()[0] == "bollard"
    assert session.open_sample("bollard")
    loop.until(lambda: session.result)
    assert session.path == tmp_path / "bollard" / "job.toml"
    assert session.trouble is None


def test_samples_are_copied_so_that_they_stay_as_they_are(
    tmp_path: Path, start: Callable[[Path], Session]
) -> None:
    session = start(tmp_path)
    assert {"tugboat", "lighthouse", "crane"} <= set(session.samples())
    assert session.open_sample("crane")
    assert session.path == tmp_path / "crane" / "job.toml"
    original = Path(__file__).parents[2] / "samples" / "crane" / "job.toml"
    assert session.path.read_bytes() == original.read_bytes()
    assert session.job is not None
    assert all((session.folder.root / spec.drawing).is_file() for spec in session.job.profile)
    assert not session.open_sample("../tugboat")
    assert not session.open_sample("nothing")


def test_cards_agree_with_the_part(session: Session, loop: Loop) -> None:
    loop.until(lambda: settled(session))
    assert session.result is not None
    front, top = session.result.cards
    assert (front.name, front.view, front.drawing) == ("front", "front", "front.svg")
    assert front.face_size == (20.0, 30.0)
    assert front.box == (0.0, 0.0, 20.0, 30.0)
    assert front.lost == ()
    assert np.allclose(corners(front.outline), [(2, 0), (2, 30), (18, 0), (18, 30)])
    assert np.allclose(corners(front.shadow), [(2, 0), (2, 30), (18, 0), (18, 30)])
    lost = sum(region.mm2 for region in top.lost)
    assert lost == pytest.approx(4 * 10)  # 2 mm at either end of an outline 10 mm wide


def corners(data: str) -> list[tuple[float, ...]]:
    """The distinct corners of path data, sorted."""
    pairs = data.replace("M", "L").replace("Z", "").split("L")
    return sorted({tuple(map(float, pair.split())) for pair in pairs if pair})
