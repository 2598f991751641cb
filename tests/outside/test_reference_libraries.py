"""The exact solution against finite-element libraries on random varying shafts, head on a rigid link beyond the mouth.

References: scikit-fem (Hermite beam element, EI and mass inside the integral), CALFEM for Python (prismatic beam
elements, extrapolated to zero step). Neither shares code with the project; assembly is written here.
"""

from __future__ import annotations

import contextlib
import io
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import quad
from scipy.linalg import eigh

from specdb.mechanics.bench import deflection_reading, frequency_reading
from specdb.mechanics.build import Build
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.mechanics.profile import ShaftModel
from tests.support.shafts import driver_build, wood_shaft

FloatArray = npt.NDArray[np.float64]
TRIM = 0.6 * IN


def line_of_mass(model: ShaftModel) -> tuple[float, float]:
    """a and c of a + c*s, solved from weight and balance point."""
    length = model.raw_length_m
    assert model.balance_from_tip_m is not None
    left = [[length, length**2 / 2.0], [length**2 / 2.0, length**3 / 3.0]]
    a, c = np.linalg.solve(left, [model.mass_kg, model.mass_kg * model.balance_from_tip_m])
    return float(a), float(c)


def ends(build: Build) -> tuple[float, float]:
    """Mouth and clamp face from the raw tip end."""
    return TRIM + build.insertion_m, TRIM + build.cut_length_m - build.clamp_m


def lowest(stiffness: FloatArray, mass: FloatArray) -> float:
    # the inverse pencil: the first mode of a fine mesh loses digits in eigh(K, M)
    largest = eigh(mass, stiffness, eigvals_only=True)[-1]
    return float(60.0 / (2.0 * np.pi * np.sqrt(largest)))


def cut_up(model: ShaftModel, low: float, high: float, step: float) -> FloatArray:
    """Nodes at every station and evenly between them: no tiny elements, which would spoil the conditioning."""
    inside = model.station_m[(model.station_m > low) & (model.station_m < high)]
    corner = np.concatenate([[low], inside, [high]])
    parts = [
        np.linspace(corner[i], corner[i + 1], int(np.ceil((corner[i + 1] - corner[i]) / step)) + 1)[:-1]
        for i in range(len(corner) - 1)
    ]
    return np.append(np.concatenate(parts), high)


def hermite(model: ShaftModel, node: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stiffness and mass of the free span in scikit-fem: two unknowns a node, deflection and slope, from the mouth."""
    from skfem import Basis, BilinearForm, ElementLineHermite, MeshLine

    mesh = MeshLine(node)
    basis = Basis(mesh, ElementLineHermite(), intorder=12)
    a, c = line_of_mass(model)

    def bending(u: Any, v: Any, w: Any) -> Any:
        return np.interp(w.x[0], model.station_m, model.ei_n_m2) * u.hess[0, 0] * v.hess[0, 0]

    def inertia(u: Any, v: Any, w: Any) -> Any:
        return (a + c * w.x[0]) * u * v

    unknowns = basis.nodal_dofs[:, np.argsort(mesh.p[0])].T.ravel()
    free = np.ix_(unknowns[:-2], unknowns[:-2])
    return (
        BilinearForm(bending).assemble(basis).toarray()[free],
        BilinearForm(inertia).assemble(basis).toarray()[free],
    )


def prismatic(model: ShaftModel, low: float, high: float, elements: int) -> tuple[FloatArray, FloatArray]:
    """Stiffness and mass of the free span from CALFEM's prismatic beam elements, each with the middle's values."""
    import calfem.core as cfc

    edge = np.linspace(low, high, elements + 1)
    a, c = line_of_mass(model)
    stiffness = np.zeros((3 * elements + 3, 3 * elements + 3))
    mass = np.zeros_like(stiffness)
    for i in range(elements):
        middle = 0.5 * (edge[i] + edge[i + 1])
        ei = float(np.interp(middle, model.station_m, model.ei_n_m2))
        with contextlib.redirect_stdout(io.StringIO()):  # the library prints its arguments
            ke, me = cfc.beam2de(edge[i : i + 2], np.zeros(2), [1.0, 1e6, ei, a + c * middle])
        part = slice(3 * i, 3 * i + 6)
        stiffness[part, part] += ke
        mass[part, part] += me
    bending = np.setdiff1d(np.arange(3 * elements), np.arange(0, 3 * elements, 3))
    return stiffness[np.ix_(bending, bending)], mass[np.ix_(bending, bending)]


def with_head(mass: FloatArray, build: Build, model: ShaftModel) -> FloatArray:
    """Point mass at the mouth, the piece of shaft in the bore, and head on a link: all of it rigid.

    The head lies beyond the first node, where x grows towards the clamp.
    """
    arm = -build.head_cg_m
    out = mass.copy()
    a, c = line_of_mass(model)
    mouth = ends(build)[0]

    def inertia(s: float, power: int) -> float:
        return (a + c * s) * (s - mouth) ** power

    for row in range(2):
        for column in range(2):
            out[row, column] += quad(inertia, TRIM, mouth, args=(row + column,), epsabs=1e-15)[0]
    out[0, 0] += build.mouth_kg
    out[:2, :2] += build.head_kg * np.array([[1.0, arm], [arm, arm * arm]])
    return out


@pytest.mark.parametrize("seed", range(12))
def test_random_shafts_against_scikit_fem(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = wood_shaft(rng, stations=int(rng.integers(2, 20)), ripple=0.08)
    build = driver_build(
        head_kg=float(rng.uniform(0.15, 0.30)),
        head_cg_m=float(rng.uniform(0.0, 0.06)),
        mouth_kg=float(rng.uniform(0.0, 0.012)),
    )
    club = installed([model], TRIM, build)
    stiffness, mass = hermite(model, cut_up(model, *ends(build), 0.012))
    reference = lowest(stiffness, with_head(mass, build, model))
    assert club.frequency_cpm[0] == pytest.approx(reference, rel=1e-8)
    pull = np.zeros(stiffness.shape[0])
    pull[0] = 1.0
    assert club.tip_compliance_mm_per_n[0] == pytest.approx(1e3 * np.linalg.solve(stiffness, pull)[0], rel=1e-8)


@pytest.mark.parametrize("seed", range(100, 104))
def test_random_shafts_against_calfem(seed: int) -> None:
    rng = np.random.default_rng(seed)
    # straight lines only between the ends of the free span, so that the error is a plain power of the step
    model = wood_shaft(rng, stations=2, ripple=0.1)
    build = driver_build(head_kg=float(rng.uniform(0.15, 0.30)), head_cg_m=float(rng.uniform(0.0, 0.06)))
    low, high = ends(build)
    object.__setattr__(model, "station_m", np.array([low - 0.01, high + 0.01]))
    club = installed([model], TRIM, build)
    found = []
    for elements in (60, 120):
        stiffness, mass = prismatic(model, low, high, elements)
        pull = np.zeros(stiffness.shape[0])
        pull[0] = 1.0
        found.append((lowest(stiffness, with_head(mass, build, model)), 1e3 * np.linalg.solve(stiffness, pull)[0]))
    coarse, fine = np.array(found)
    frequency, compliance = fine + (fine - coarse) / 3.0
    assert abs(fine[0] / club.frequency_cpm[0] - 1.0) < 2e-4
    assert club.frequency_cpm[0] == pytest.approx(frequency, rel=1e-7)
    assert club.tip_compliance_mm_per_n[0] == pytest.approx(compliance, rel=1e-7)


@pytest.mark.parametrize("seed", range(200, 204))
def test_bench_readings_against_scikit_fem(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = wood_shaft(rng)
    free, tip_mass = 41.0 * IN, 0.205
    stiffness, mass = hermite(model, cut_up(model, 0.0, free, 0.012))
    mass[0, 0] += tip_mass
    assert frequency_reading([model], free, tip_mass)[0] == pytest.approx(lowest(stiffness, mass), rel=1e-8)
    pull = np.zeros(stiffness.shape[0])
    pull[0] = 30.0
    expected = np.linalg.solve(stiffness, pull)[0]
    assert deflection_reading([model], free, 30.0)[0] == pytest.approx(expected, rel=1e-8)


def test_kick_point_against_scikit_fem() -> None:
    model, build = wood_shaft(np.random.default_rng(31), stations=5), driver_build()
    low, high = ends(build)
    place = cut_up(model, low, high, 0.003)
    stiffness, _ = hermite(model, place)
    pull = np.zeros(stiffness.shape[0])
    pull[0] = 1.0
    solved = np.append(np.linalg.solve(stiffness, pull), [0.0, 0.0])
    deflection, slope = solved[::2], solved[1::2]
    # distance to the chord is largest where the slope is the chord's: -deflection at the mouth over the length
    rest = slope + deflection[0] / (high - low)
    at = int(np.flatnonzero(np.diff(np.sign(rest)) != 0)[0])
    root = place[at] - rest[at] * (place[at + 1] - place[at]) / (rest[at + 1] - rest[at])
    found = installed([model], TRIM, build).kick_point_pct[0]
    assert found == pytest.approx(100.0 * (root - low) / (high - low), abs=2e-4)
