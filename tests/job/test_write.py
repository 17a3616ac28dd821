"""Saving a job: the values arrive, and what did not change stays as it was written."""

from __future__ import annotations

import difflib
import tempfile
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.errors import JobError, OutputError
from silhouette3d.job.model import Job, KeyPath, job_from, read_job
from silhouette3d.job.write import merged, save_job

ROOT = Path(__file__).resolve().parents[2]

COMMENTED = """\
# A mooring bollard for the desk.
name  = "Bollard"      # shown on the sheet
units = "mm"

# The block.
[stock]
size     = [60.0,  # width
            50.0,  # depth
            70.0]  # height
material = "brass C360" # from the table
# density = 8.5         # instead of a material

# The gable end.
[[profile]]
view    = "front"   # as seen
drawing = "front.dxf"

# The long side.
[[profile]]
view = {look = [1.0, 0, 0], up = [0, 0, 1]} # along the quay
drawing = "side.dxf"
    [[profile.tab]]
    at = [1.0, 2.0] # near the corner
    # no more tabs

[checks]
thin = 1.5 # mm

# That is all.
"""

# Other ways to write down the same job.
DOTTED = """\
name = "Bollard"
units = "mm"
stock.size = [60.0, 50.0, 70.0] # the block
stock.material = "brass C360"
checks.thin = 1.5 # mm

[[profile]]
view = "front" # as seen
drawing = "front.dxf"

[[profile]]
view.look = [1.0, 0, 0] # along the quay
view.up = [0, 0, 1]
drawing = "side.dxf"
tab = [{at = [1.0, 2.0]}] # near the corner
"""

INLINE = """\
name = 'Bollard'
units = "mm"
checks = {thin = 1.5} # mm
stock = {size = [60.0, 50.0, 70.0], material = "brass C360"} # the block
profile = [
  {view = "front", drawing = "front.dxf"}, # as seen
  # along the quay
  {view = {look = [1.0, 0, 0], up = [0, 0, 1]}, drawing = "side.dxf", tab = [{at = [1.0, 2.0]}]},
]
"""

HEADERS = """\
# all in tables
name = "Bollard"
units = "mm"
[checks] # limits
thin = 1.5 # mm
[[profile]]
view = "front" # as seen
drawing = "front.dxf"
[[profile]]
drawing = "side.dxf"
[profile.view] # along the quay
look = [1.0, 0, 0]
up = [0, 0, 1]
[[profile.tab]] # near the corner
at = [1.0, 2.0]
[stock]
material = "brass C360"
size = [60.0, 50.0, 70.0] # the block"""

LAYOUTS = {"commented": COMMENTED, "dotted": DOTTED, "inline": INLINE, "headers": HEADERS}

every_layout = pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)


def changed(text: str, changes: Mapping[KeyPath, object]) -> str:
    """The text with some values of its job changed; that they arrived is checked here."""
    job = job_from(tomllib.loads(text)).changed(changes)
    new = merged(text, job.declared)
    assert tomllib.loads(new) == job.declared
    return new


def difference(old: str, new: str) -> list[str]:
    """The lines that went and came, in order."""
    lines = difflib.ndiff(old.splitlines(), new.splitlines())
    return [line for line in lines if line[0] in "+-"]


def comments(text: str) -> list[str]:
    return ["#" + line.partition("#")[2] for line in text.splitlines() if "#" in line]


def test_the_layouts_say_the_same() -> None:
    assert all(tomllib.loads(text) == tomllib.loads(COMMENTED) for text in LAYOUTS.values())


@every_layout
def test_nothing_changed_changes_nothing(text: str) -> None:
    assert changed(text, {}) == text


@every_layout
def test_equal_numbers_stay_as_they_are_written(text: str) -> None:
    assert changed(text, {("profile", 1, "view", "look"): [1, 0.0, 0]}) == text


@pytest.mark.parametrize(
    ("changes", "lines"),
    [
        (
            {("name",): "Mooring bollard"},
            [
                '- name  = "Bollard"      # shown on the sheet',
                '+ name  = "Mooring bollard"      # shown on the sheet',
            ],
        ),
        ({("tolerance",): 0.02}, ["+ tolerance = 0.02"]),
        (
            {("stock", "size", 1): 55.0},
            ["-             50.0,  # depth", "+             55.0,  # depth"],
        ),
        ({("stock", "density"): 8.4}, ["+ density = 8.4"]),
        ({("profile", 0, "shift"): [0.0, -1.5]}, ["+ shift = [0.0, -1.5]"]),
        (
            {("profile", 0, "view"): "rear"},
            ['- view    = "front"   # as seen', '+ view    = "rear"   # as seen'],
        ),
        (
            {("profile", 1, "view"): "right"},
            [
                "- view = {look = [1.0, 0, 0], up = [0, 0, 1]} # along the quay",
                '+ view = "right" # along the quay',
            ],
        ),
        (
            {("profile", 1, "tab", 1): {"at": [3.0, 4.0], "width": 2.5}},
            ["+ ", "+ [[profile.tab]]", "+ at = [3.0, 4.0]", "+ width = 2.5"],
        ),
        (
            {("profile", 0, "tab"): [{"at": [3.0, 4.0]}]},
            ["+ [[profile.tab]]", "+ at = [3.0, 4.0]", "+ "],
        ),
        (
            {("cutting", "order"): ["view 2", "front"], ("cutting", "kerf"): 0.8},
            ["+ [cutting]", '+ order = ["view 2", "front"]', "+ kerf = 0.8", "+ "],
        ),
        ({("checks",): None}, ["- [checks]", "- thin = 1.5 # mm", "- "]),
        ({("checks", "match"): 0.2}, ["+ match = 0.2"]),
        (
            {("profile", 0): None},
            [
                "- # The gable end.",
                "- [[profile]]",
                '- view    = "front"   # as seen',
                '- drawing = "front.dxf"',
                "- ",
            ],
        ),
        (
            {("profile", 1): {"view": "top", "drawing": "top.svg"}},
            [
                "- view = {look = [1.0, 0, 0], up = [0, 0, 1]} # along the quay",
                '- drawing = "side.dxf"',
                "-     [[profile.tab]]",
                "-     at = [1.0, 2.0] # near the corner",
                "-     # no more tabs",
                '+ view = "top" # along the quay',
                '+ drawing = "top.svg"',
            ],
        ),
    ],
    ids=lambda value: str(next(iter(value))) if isinstance(value, dict) else "",
)
def test_only_what_changed_is_written_anew(
    changes: Mapping[KeyPath, object], lines: list[str]
) -> None:
    assert sorted(difference(COMMENTED, changed(COMMENTED, changes))) == sorted(lines)


def test_new_keys_stand_in_their_own_table() -> None:
    new = changed(COMMENTED, {("stock", "density"): 8.4, ("profile", 0, "shift"): [0.0, 1.0]})
    assert "instead of a material\ndensity = 8.4\n\n# The gable end.\n" in new
    assert 'drawing = "front.dxf"\nshift = [0.0, 1.0]\n\n# The long side.\n' in new


def test_a_profile_put_between_leaves_the_comments_with_theirs() -> None:
    job = job_from(tomllib.loads(COMMENTED))
    front, side = job.declared["profile"]
    new = changed(COMMENTED, {("profile",): [front, {"view": "top", "drawing": "t.svg"}, side]})
    assert '[[profile]]\nview = "top"\ndrawing = "t.svg"\n\n# The long side.\n[[profile]]' in new
    assert comments(new) == comments(COMMENTED)


@every_layout
@pytest.mark.parametrize(
    "changes",
    [
        {("profile", 0, "tab"): [{"at": [3.0, 4.0]}, {"at": [5.0, 6.0], "width": 1.0}]},
        {("profile", 1, "tab", 0, "width"): 1.0},
        {("profile", 1, "view", "up"): [0.0, 1.0, 1.0]},
        {("profile", 1, "view"): "right", ("profile", 1, "tab"): None},
        {("cutting", "order"): ["view 2", "front"]},
        {("stock", "size"): None, ("stock", "round"): {"diameter": 50.0, "length": 70.0}},
        {("checks", "thin"): None, ("checks", "match"): 0.25},
        {("profile", 0, "clamp"): [[1.0, 2.0, 3.0, 4.0]], ("profile", 0, "mirror"): True},
    ],
    ids=str,
)
def test_every_layout_takes_every_kind_of_change(
    text: str, changes: Mapping[KeyPath, object]
) -> None:
    changed(text, changes)


# Values for every kind of key, each valid by itself; None takes the key away.
VALUES: dict[KeyPath, list[object]] = {
    ("name",): ["Post", "Größe ½ \"a\" 'b' \\ # no comment", "two\nlines"],
    ("tolerance",): [0.02, None],
    ("stock", "size"): [[1.0, 2.0, 3.0], [1, 2, 3]],
    ("stock", "size", 0): [61.5],
    ("stock", "density"): [1, 2.5, None],
    ("stock", "material"): ["oak"],
    ("profile", 0, "shift"): [[0.0, 1.0], None],
    ("profile", 0, "datum"): ["corner", [1.0, 2.0], None],
    ("profile", 0, "layer"): ["A", ["A", "B"], ["B"], None],
    ("profile", 0, "tab"): [
        [{"at": [1.0, 1.0]}],
        [{"at": [1, 1]}, {"at": [2, 2], "width": 3}],
        None,
    ],
    ("profile", 1, "tab"): [[{"at": [1.0, 2.0]}, {"at": [7.0, 7.0]}], [], None],
    ("profile", 1, "view"): ["top", {"look": [0.0, 1.0, 0.0], "up": [1.0, 0.0, 0.0]}],
    ("profile", 1, "mirror"): [True, False, None],
    ("profile", 2): [{"view": "bottom", "drawing": "x.svg", "tab": [{"at": [0.5, 0.5]}]}],
    ("checks", "thin"): [2.0, None],
    ("checks", "match"): [0.5, None],
    ("checks",): [None, {"thin": 1.0, "match": 1.0}],
    ("cutting", "kerf"): [1, 0.7, None],
    ("cutting", "clear_offcuts"): [True, False],
}

a_change = st.sampled_from(list(VALUES)).flatmap(
    lambda key: st.tuples(st.just(key), st.sampled_from(VALUES[key]))
)


def follow(job: Job, changes: list[tuple[KeyPath, object]]) -> Job:
    """The job after those of the changes that it takes."""
    for key, value in changes:
        try:
            job = job.changed({key: value})
        except JobError:
            continue
    return job


@given(st.sampled_from(list(LAYOUTS.values())), st.lists(a_change, max_size=8), st.booleans())
def test_what_is_saved_is_read_again(
    text: str, changes: list[tuple[KeyPath, object]], windows: bool
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "job.toml"
        written = text.replace("\n", "\r\n") if windows else text
        file.write_bytes(written.encode())
        job = follow(read_job(file), changes)
        save_job(job)
        assert read_job(file) == job
        saved = file.read_bytes()
        save_job(job)
        assert file.read_bytes() == saved
        assert (b"\r\n" in saved) == windows
        assert saved.count(b"\n") == saved.count(b"\r\n") or not windows


@given(st.lists(a_change, max_size=8))
def test_comments_stay_while_their_line_does(changes: list[tuple[KeyPath, object]]) -> None:
    """A comment on a line of its own stays unless its whole table went or was written anew."""
    job = follow(job_from(tomllib.loads(COMMENTED)), changes)
    new = merged(COMMENTED, job.declared)
    for comment in comments(COMMENTED):
        if comment in ("# mm", "# near the corner", "# no more tabs", "# along the quay"):
            continue  # of a table that a change may take away
        if comment in ("# width", "# depth", "# height"):
            continue  # of values that a change may take away
        assert f"{comment}\n" in new


@given(
    st.recursive(
        st.booleans() | st.integers(-5, 5) | st.floats(allow_nan=False) | st.text(max_size=3),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.text("abc", min_size=1, max_size=2), inner, max_size=3)
        ),
        max_leaves=8,
    ).filter(lambda value: isinstance(value, dict)),
    st.data(),
)
def test_any_values_into_any_layout(values: dict[str, Any], data: st.DataObject) -> None:
    """Beyond what a job holds: the text always says the values, or there is an error."""
    text = data.draw(st.sampled_from([*LAYOUTS.values(), ""]))
    try:
        assert tomllib.loads(merged(text, values)) == values
    except JobError as error:
        assert "layout" in error.what  # noqa: PT017 - either outcome is right


# Files.


@pytest.mark.parametrize("sample", sorted((ROOT / "samples").glob("*/job.toml")), ids=str)
def test_a_sample_saved_unchanged_is_the_same_file(sample: Path, tmp_path: Path) -> None:
    save_job(read_job(sample), tmp_path / "job.toml")
    assert (tmp_path / "job.toml").read_bytes() == sample.read_bytes()


def test_a_byte_order_mark_stays(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(b"\xef\xbb\xbf" + COMMENTED.encode())
    save_job(read_job(file).changed({("name",): "Post"}))
    assert file.read_bytes() == b"\xef\xbb\xbf" + COMMENTED.replace('"Bollard"', '"Post"').encode()


def test_saved_under_another_name(tmp_path: Path) -> None:
    """The comments come from the job's own file, which stays; what was there before goes."""
    file, other = tmp_path / "job.toml", tmp_path / "other.toml"
    file.write_text(COMMENTED)
    other.write_text("# something else\n")
    save_job(read_job(file).changed({("name",): "Post"}), other)
    assert file.read_text() == COMMENTED
    assert other.read_text() == COMMENTED.replace('"Bollard"', '"Post"')


def test_a_job_that_has_no_file(tmp_path: Path) -> None:
    job = job_from(tomllib.loads(COMMENTED))
    with pytest.raises(JobError, match=r"this job has no file yet\. Say where to save it"):
        save_job(job)
    save_job(job, tmp_path / "job.toml")
    assert (tmp_path / "job.toml").read_text() == NEW
    assert read_job(tmp_path).declared == job.declared


NEW = """\
name = "Bollard"
units = "mm"

[stock]
size = [60.0, 50.0, 70.0]
material = "brass C360"

[[profile]]
view = "front"
drawing = "front.dxf"

[[profile]]
view = {look = [1.0, 0, 0], up = [0, 0, 1]}
drawing = "side.dxf"

[[profile.tab]]
at = [1.0, 2.0]

[checks]
thin = 1.5
"""


def test_a_file_that_was_edited_meanwhile_keeps_its_new_comments(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(COMMENTED)
    job = read_job(file).changed({("name",): "Post"})
    file.write_text(COMMENTED.replace("# mm", "# millimetres").replace("1.5", "9.5"))
    save_job(job)
    expected = COMMENTED.replace("# mm", "# millimetres").replace('"Bollard"', '"Post"')
    assert file.read_text() == expected


def test_a_file_that_went_is_written_anew(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(COMMENTED)
    job = read_job(file)
    file.unlink()
    save_job(job)
    assert file.read_text() == NEW


def test_a_file_that_was_broken_meanwhile_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(COMMENTED)
    job = read_job(file).changed({("name",): "Post"})
    file.write_text(broken := COMMENTED + "[half")
    with pytest.raises(JobError, match=r"job.toml, line 30: this is not TOML: the closing \]"):
        save_job(job)
    assert file.read_text() == broken


def test_nowhere_to_write(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(COMMENTED)
    with pytest.raises(OutputError, match="does not exist"):
        save_job(read_job(tmp_path), tmp_path / "none" / "job.toml")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["job.toml"]


def test_a_slip_of_the_writer_is_caught(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is about to be written is read once more, whatever the library has made of it."""
    file = tmp_path / "job.toml"
    file.write_text(COMMENTED)
    job = read_job(file).changed({("name",): "Post"})
    monkeypatch.setattr("tomlkit.dumps", lambda document: COMMENTED)
    with pytest.raises(JobError, match="do not fit into the layout of this file"):
        save_job(job)
    assert file.read_text() == COMMENTED
