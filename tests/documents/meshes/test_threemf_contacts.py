"""Bodies that touch themselves along a line, told apart by index."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.spatial.transform import Rotation

from silhouette3d.documents.meshes.threemf import part_contacts
from silhouette3d.documents.meshes.tidy import tidy
from silhouette3d.geometry.mesh import Mesh
from tests.support.meshes import (
    area,
    blocks,
    box,
    closed,
    edges,
    manifold,
    prism,
    soup,
    two_blocks_at_an_edge,
    volume,
)


def outline_cells(size: int) -> st.SearchStrategy[np.ndarray]:
    return hnp.arrays(bool, (size, size))


@given(
    front=outline_cells(4),
    side=outline_cells(4),
    top=outline_cells(4),
    pitch=st.floats(0.5, 20),
    shift=hnp.arrays(float, 3, elements=st.floats(-50, 50)),
)
def test_what_through_cuts_leave(
    front: np.ndarray, side: np.ndarray, top: np.ndarray, pitch: float, shift: np.ndarray
) -> None:
    """Outlines on a grid: volume by counting cells, and contacts along lines told apart."""
    cells = front[:, None, :] & side[None, :, :] & top[:, :, None]
    if not cells.any():
        return
    mesh = soup(blocks(cells, [at + pitch * np.arange(5) for at in shift]))
    result = tidy(mesh)
    # single precision may move the surface by a step of 1.5e-5 mm, the grain by less
    assert abs(volume(result) - cells.sum() * pitch**3) <= 2e-5 * area(mesh)
    parted = part_contacts(result)
    assert manifold(parted)
    assert np.array_equal(parted.corners, result.corners)


def test_a_line_of_contact_is_parted_through_the_air() -> None:
    result = tidy(two_blocks_at_an_edge())
    assert closed(result)
    assert max(edges(result).values()) == 2
    parted = part_contacts(result)
    assert len(result.vertices) == 14
    assert len(parted.vertices) == 16
    assert manifold(parted)
    pieces = trimesh.Trimesh(parted.vertices, parted.triangles, process=False).split()
    assert sorted(piece.volume for piece in pieces) == pytest.approx([1000, 1000])


def test_three_wedges_at_one_line() -> None:
    """Three thin prisms around the z axis: each stays with itself."""
    wedges = []
    for k in range(3):
        turn = Rotation.from_euler("z", 120 * k, degrees=True)
        wedge = prism([(0, 0), (10, -2), (10, 2)], 10)
        wedges.append(Mesh(turn.apply(wedge.vertices.copy()), wedge.triangles))
    heap = Mesh(
        np.vstack([w.vertices for w in wedges]),
        np.vstack([w.triangles + 6 * k for k, w in enumerate(wedges)]),
    )
    result = tidy(heap)
    assert max(edges(result).values()) == 3
    parted = part_contacts(result)
    assert manifold(parted)
    pieces = trimesh.Trimesh(parted.vertices, parted.triangles, process=False).split()
    # a triangle of 4 mm by 10 mm, 10 mm high; single precision holds 1e-7 of that
    assert [p.volume for p in pieces] == pytest.approx([200, 200, 200], rel=1e-6)


def test_points_of_contact_stay() -> None:
    """Two cubes that meet in one corner share no edge, and the format asks for no more."""
    cells = np.zeros((2, 2, 2), bool)
    cells[0, 0, 0] = cells[1, 1, 1] = True
    result = tidy(blocks(cells, [[0, 10, 20]] * 3))
    assert part_contacts(result) is result
    assert len(result.vertices) == 15


def test_a_mesh_without_contacts_stays() -> None:
    mesh = tidy(box())
    assert part_contacts(mesh) is mesh
