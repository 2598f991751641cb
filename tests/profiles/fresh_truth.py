"""Invented shafts drawn as tubes, for judging the estimator by what it was never tuned on.

A graphite shaft is an outline of diameters and a stack of plies, each with its angle, thickness and the places where
it begins and ends; a steel shaft is a drawn tube with step-downs whose wall thickens where the diameter is drawn in.
EI, GJ and mass per length follow from the same section, so they hang together by physics and by nothing else. Makers
have ways of their own (modulus, share of bias plies, outlines, reinforcement), models are variations of those, flexes
of a model differ by modulus and share of plies. Pieces scatter in modulus and wall.

Words and figures of the leaflet are made from what the shaft really does: flex letters from the frequency in a club,
kick words from the kick point there, each with the maker's own bias and noise; weight, torque, balance point and the
two-figure stiffness with noise and rounding. How large that noise is, nobody says on a leaflet; it is that which the
product takes where nothing is said (``mechanics.defaults``), for no simulation can tell how good real leaflets are.

Everything is invented. Ranges that the figures keep to (stiffness of 15 to 30 N·m² at the tip and 50 to 90 at the
butt for driver shafts, 25 to 40 and 60 to 100 for irons): common practice, no source. Steel: E = 206 GPa, ρ = 7850
kg/m³; unidirectional carbon plies of 100 to 150 GPa, 1550 kg/m³ (handbook figures, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.mechanics.build import Build
from specdb.mechanics.club import installed
from specdb.mechanics.constants import DEG, FT_LB, IN
from specdb.mechanics.profile import ShaftModel
from specdb.records.rows import Shaft

FloatArray = npt.NDArray[np.float64]

_STEP_M = 0.001
_GRID = 72
_STEEL_E, _STEEL_NU, _STEEL_RHO = 206e9, 0.29, 7850.0
_PLY_RHO, _PAINT_KG_M2 = 1560.0, 0.05
_CLOTH_E = (80e9, 240e9)  # what a mixture of cloths along the shaft can have, Pa
_LETTERS = ("L", "A", "R", "S", "X")
_KICK = ("low", "mid-low", "mid", "mid-high", "high")


@dataclass(frozen=True, slots=True)
class Tube:
    """A raw shaft as it really is, SI.

    Attributes
    ----------
    place_m : ndarray, shape (n,)
        Places from the raw tip end; steps are two places a millimetre apart.
    ei, gj, mass_per_m : ndarray, shape (n,)
        Bending and torsional stiffness (N·m²), mass per length (kg/m); straight lines between.
    shaft : Shaft
        Its leaflet.
    """

    place_m: FloatArray
    ei: FloatArray
    gj: FloatArray
    mass_per_m: FloatArray
    shaft: Shaft

    @property
    def raw_m(self) -> float:
        """Raw length, m."""
        return float(self.place_m[-1])

    @property
    def mass_kg(self) -> float:
        """Mass, kg."""
        return float(np.trapezoid(self.mass_per_m, self.place_m))

    def over(self, values: FloatArray, low: float, high: float) -> float:
        """Integral of values at the places from low to high."""
        inner = self.place_m[(self.place_m > low) & (self.place_m < high)]
        at = np.concatenate([[low], inner, [high]])
        return float(np.trapezoid(np.interp(at, self.place_m, values), at))

    def twist(self, low: float, high: float) -> float:
        """Twist of a span, rad/(N·m)."""
        return self.over(1.0 / self.gj, low, high)

    def model(self, low: float = 0.0, high: float | None = None, free: tuple[float, float] | None = None) -> ShaftModel:
        """The shaft, or a piece cut from it, for the exact mechanics.

        Mass, balance point and the twist of the free span are those of the piece itself.
        """
        end = self.raw_m if high is None else high
        inner = (self.place_m > low + 1e-6) & (self.place_m < end - 1e-6)
        at = np.concatenate([[low], self.place_m[inner], [end]])
        mass = self.over(self.mass_per_m, low, end)
        first = self.over(self.mass_per_m * (self.place_m - low), low, end)
        span = free if free is not None else (1.0 * IN, end - low - 1.0 * IN)
        return ShaftModel(
            raw_length_m=end - low,
            station_m=at - low,
            ei_n_m2=np.interp(at, self.place_m, self.ei),
            log_ei_cov=np.zeros((at.size, at.size)),
            mass_kg=mass,
            mass_sd_kg=0.0,
            balance_from_tip_m=first / mass,
            balance_sd_m=0.0,
            twist_rad_per_nm=self.twist(low + span[0], low + span[1]),
            twist_sd=0.0,
            twist_from_m=span[0],
            twist_to_m=span[1],
        )

    def piece(self, rng: np.random.Generator) -> Tube:
        """Another piece: modulus, wall and where it is thick scatter."""
        modulus, shear = np.exp(rng.normal(0.0, [0.013, 0.014]))
        t = self.place_m / self.raw_m
        wall = np.exp(
            rng.normal(0.0, 0.006) + rng.normal(0.0, 0.006) * (2.0 * t - 1.0) + rng.normal(0.0, 0.004) * t * t
        )
        return replace(
            self, ei=self.ei * modulus * wall, gj=self.gj * shear * wall, mass_per_m=self.mass_per_m * wall**0.9
        )


def true_features(tubes: Sequence[Tube], trim_m: FloatArray, builds: Sequence[Build]) -> FloatArray:
    """Features as installed: exact mechanics on the very piece that is left after cutting, shape (B, features)."""
    out = []
    for start in range(0, len(tubes), 64):
        part = slice(start, start + 64)
        models = [
            t.model(float(x), float(x) + b.cut_length_m, (b.insertion_m, b.cut_length_m - b.clamp_m))
            for t, x, b in zip(tubes[part], trim_m[part], builds[part], strict=True)
        ]
        out.append(installed(models, 0.0, builds[part], with_sd=False).features)
    return np.concatenate(out)


# --- makers ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Maker:
    """The ways of one maker."""

    name: str
    modulus: float  # of the long plies, Pa
    bias: float  # share of bias plies in the wall
    tip_in: float  # how far the tip reinforcement reaches
    tip_wall: float  # how much of the wall it adds
    butt: float  # butt reinforcement, share of the wall
    outline: float  # exponent of the diameter between tip and butt section
    butt_section_in: float
    first_step_in: float  # steel: where step-downs begin
    step_in: float  # steel: from step to step
    draw: float  # steel: how the wall thickens as the diameter is drawn in
    letter_cpm: float  # how much stiffer its letters are than the usual
    kick_shift: float  # how much higher its kick words are
    weight_g: float  # bias of published weights
    two_figures: bool  # whether it publishes tip and butt stiffness
    two_figure_rel: float  # and how those read


def _maker(rng: np.random.Generator, name: str) -> _Maker:
    return _Maker(
        name=name,
        modulus=1e9 * float(rng.uniform(125.0, 170.0)),
        bias=float(rng.uniform(0.40, 0.54)),
        tip_in=float(rng.uniform(7.0, 16.0)),
        tip_wall=float(rng.uniform(0.25, 0.60)),
        butt=float(rng.uniform(0.0, 0.15)),
        outline=float(rng.uniform(0.85, 1.15)),
        butt_section_in=float(rng.uniform(2.0, 9.0)),
        first_step_in=float(rng.uniform(6.5, 11.0)),
        step_in=float(rng.choice([1.0, 1.25, 1.5, 1.75, 2.0])),
        draw=float(rng.uniform(0.55, 0.95)),
        letter_cpm=float(rng.normal(0.0, 5.0)),
        kick_shift=float(rng.normal(0.0, 0.5)),
        weight_g=float(rng.normal(0.0, 0.4)),
        two_figures=bool(rng.random() < 0.4),
        two_figure_rel=float(rng.normal(0.0, 0.05)),
    )


def _ply(place: FloatArray, low: float, high: float, slant: float) -> FloatArray:
    """How much of a ply there is: 1 between its ends, a slanted cut at either end."""
    rise = np.clip((place - low) / max(slant, _STEP_M) + 0.5, 0.0, 1.0)
    fall = np.clip((high - place) / max(slant, _STEP_M) + 0.5, 0.0, 1.0)
    return np.asarray(rise * fall)


def _graphite(
    rng: np.random.Generator,
    maker: _Maker,
    pattern: int,
    raw_m: float,
    tip_m: float,
    weight_kg: float,
    wanted_cpm: float,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Places, EI, GJ and mass per length of a tube wrapped to a weight and, as far as cloth goes, a frequency."""
    model = np.random.default_rng(pattern)  # one mandrel and one pattern of plies for all flexes, more or less
    parallel = model.uniform(3.0, 5.0) * IN
    section = maker.butt_section_in * IN * float(np.exp(model.normal(0.0, 0.15)))
    outline = maker.outline * float(np.exp(rng.normal(0.0, 0.015)))
    tip_end = maker.tip_in * IN * float(np.exp(rng.normal(0.0, 0.05)))
    # plies are cut on a slant so that stiffness does not jump where they end; a single one may end bluntly
    slant, slow = model.uniform(3.0, 9.0, 2) * IN
    blunt = raw_m * float(model.uniform(0.1, 0.9))
    butt_from = raw_m * model.uniform(0.55, 0.75)
    drop = raw_m * float(model.uniform(0.3, 0.6) + rng.normal(0.0, 0.01))  # one long ply ends here
    ends_early = model.random() < 0.5
    around = [e + 0.5 * d for e, d in ((tip_end, slant), (butt_from, slow), (drop, slow)) for d in (-d, d)]
    around += [blunt - 0.5 * _STEP_M, blunt + 0.5 * _STEP_M]
    place = np.unique(np.clip(np.concatenate([np.linspace(0.0, raw_m, _GRID), around]), 0.0, raw_m))
    place = place[np.append(True, np.diff(place) > 0.4 * _STEP_M)]
    place[-1] = raw_m
    t = np.clip((place - parallel) / (raw_m - parallel - section), 0.0, 1.0)
    outer = tip_m + (0.600 * IN - tip_m) * t**outline
    bias = maker.bias * float(np.exp(rng.normal(0.0, 0.04)))
    tip_part = maker.tip_wall * float(np.exp(rng.normal(0.0, 0.08)))
    full = np.ones_like(place)
    fade = 1.0 - 0.5 * place / raw_m  # wraps of one cut of cloth: fewer turns where the mandrel is thick
    last = _ply(place, -IN, drop, slow) if ends_early else full
    long_e, wall = maker.modulus, 1.0e-3
    for _ in range(14):
        # from the inside out: Young's and shear modulus, thickness in parts of the wall, how much of it is where
        plies = [
            (0.13 * maker.modulus, 42e9, bias, fade / 0.75),
            (long_e, 4.6e9, tip_part, _ply(place, -IN, tip_end, slant)),
            (long_e, 4.6e9, maker.butt, _ply(place, butt_from, raw_m + IN, slow)),
            (long_e, 4.6e9, 0.82 - bias, fade / 0.75),
            (long_e, 4.6e9, 0.03, _ply(place, -IN, blunt, 0.0)),
            (long_e, 4.6e9, 0.15, last),
        ]
        ei, gj, mass = _wrapped(outer, wall, plies)
        wall *= weight_kg / float(np.trapezoid(mass, place))
        long_e = float(np.clip(long_e * (wanted_cpm / _about_cpm(place, ei, raw_m)) ** 2, *_CLOTH_E))
    return place, ei, gj, mass


def reissued(tubes: Sequence[Tube], rng: np.random.Generator, size: float) -> list[Tube]:
    """The same shafts sold again under other names, not quite the same: modulus, wall, reinforcement, leaflet anew.

    Parameters
    ----------
    tubes : sequence of Tube
        The shafts.
    rng : numpy.random.Generator
        Random numbers.
    size : float
        How much other: 1 is two percent of stiffness.
    """
    out = []
    for k, tube in enumerate(tubes):
        t = tube.place_m / tube.raw_m
        wall = np.exp(size * (rng.normal(0.0, 0.006) + rng.normal(0.0, 0.01) * (2.0 * t - 1.0)))
        tip = 1.0 + size * rng.normal(0.0, 0.02) * np.exp(-t / 0.15)
        modulus, shear = np.exp(size * rng.normal(0.0, [0.016, 0.025]))
        maker = _maker(rng, f"Invented dealer {k % 5}")
        shaft = replace(tube.shaft, id=f"{tube.shaft.id}-again-{size:g}", maker=maker.name, model=f"again {k}")
        made = Tube(tube.place_m, tube.ei * modulus * wall * tip, tube.gj * shear * wall, tube.mass_per_m * wall, shaft)
        seen = true_features([made], np.array([0.5 * IN]), [usual_build(shaft)])[0]
        out.append(replace(made, shaft=_leaflet(rng, maker, made, float(seen[0]), float(seen[7]))))
    return out


def _about_cpm(place: FloatArray, ei: FloatArray, raw_m: float) -> float:
    """Frequency in a club, as near as a maker's rule of thumb: one mass on a massless shaft."""
    free = raw_m - (8.7 if raw_m > 44.0 * IN else 10.7) * IN
    u = np.clip(place - 1.7 * IN, 0.0, free)
    compliance = np.trapezoid(np.where(place < free, u**2 / ei, 0.0), place)
    return float(60.0 / (2.0 * np.pi) / np.sqrt(compliance * (0.270 if raw_m > 44.0 * IN else 0.330)))


def _wrapped(
    outer: FloatArray, wall: float, plies: Sequence[tuple[float, float, float, FloatArray]]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    inner = outer - 2.0 * wall * sum(part * there for _, _, part, there in plies)
    inner = np.maximum(inner, 0.5e-3)
    mass = np.pi * outer * _PAINT_KG_M2
    ei, gj = np.zeros_like(outer), np.zeros_like(outer)
    for young, shear, part, there in plies:
        outside = np.minimum(inner + 2.0 * wall * part * there, outer)
        fourth = outside**4 - inner**4
        ei += young * np.pi / 64.0 * fourth
        gj += shear * np.pi / 32.0 * fourth
        mass = mass + _PLY_RHO * np.pi / 4.0 * (outside**2 - inner**2)
        inner = outside
    return ei, gj, mass


def _steel(
    rng: np.random.Generator,
    maker: _Maker,
    pattern: int,
    raw_m: float,
    tip_m: float,
    weight_kg: float,
    stiff: float,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Places, EI, GJ and mass per length of a stepped tube of the weight asked for."""
    model = np.random.default_rng(pattern)
    # a stiffer one is stepped nearer to the tip
    first = maker.first_step_in * IN - 1.5 * IN * (stiff - 1.0) / 0.1
    first = float(np.clip(first, 4.0 * IN, 13.0 * IN)) + float(rng.normal(0.0, 0.3)) * IN
    last = raw_m - (maker.butt_section_in + 5.0) * IN
    at = np.arange(first, last, maker.step_in * IN)
    butt_m = 0.600 * IN * float(model.choice([1.0, 1.0, 0.97]))
    even = np.linspace(0.0, 1.0, at.size + 1)
    diameter = tip_m + (butt_m - tip_m) * even ** (maker.outline * float(np.exp(rng.normal(0.0, 0.01))))
    thick = (butt_m / diameter) ** maker.draw * np.exp(rng.normal(0.0, 0.01, diameter.size))
    outer = np.repeat(diameter, 2)
    place = np.sort(np.concatenate([[0.0, raw_m], at - 0.5 * _STEP_M, at + 0.5 * _STEP_M]))
    young = _STEEL_E * float(np.exp(rng.normal(0.0, 0.006)))
    wall = 0.4e-3
    for _ in range(12):
        inner = outer - 2.0 * wall * np.repeat(thick, 2)
        mass = _STEEL_RHO * np.pi / 4.0 * (outer**2 - inner**2)
        wall *= weight_kg / float(np.trapezoid(mass, place))
    fourth = outer**4 - inner**4
    ei = young * np.pi / 64.0 * fourth
    gj = young / (2.0 * (1.0 + _STEEL_NU)) * np.pi / 32.0 * fourth
    return place, ei, gj, mass


# --- leaflets ----------------------------------------------------------------------------------------------


def usual_build(shaft: Shaft) -> Build:
    """A driver or a 7-iron to judge a shaft in."""
    iron = shaft.club_type == "iron"
    return Build(
        cut_length_m=(36.0 if iron else 43.5) * IN,
        insertion_m=1.25 * IN,
        clamp_m=5.0 * IN,
        head_kg=0.268 if iron else 0.201,
        head_cg_m=(1.6 if iron else 1.35) * IN,
        mouth_kg=0.0,
        grip_kg=0.05,
        grip_balance_m=4.2 * IN,
        grip_cap_m=0.25 * IN,
    )


def usual_cpm(kind: str) -> float:
    """Frequency of a middling shaft as installed, cpm (common practice, no source)."""
    return 318.0 if kind == "iron" else 250.0


def _leaflet(rng: np.random.Generator, maker: _Maker, tube: Tube, cpm: float, kick: float) -> Shaft:
    shaft, iron = tube.shaft, tube.shaft.club_type == "iron"
    middle = usual_cpm(shaft.club_type) + maker.letter_cpm
    letter = round((cpm - middle) / 10.0 + 2.3 + float(rng.normal(0.0, 0.35)))
    usual = 53.5 if iron else 54.3
    word = round((kick - usual) / 1.0 + 2.0 + maker.kick_shift + float(rng.normal(0.0, 0.9)))
    twist = tube.twist(1.0 * IN, tube.raw_m - 1.0 * IN) * FT_LB / DEG
    balance = tube.model().balance_from_tip_m or 0.0
    more: dict[str, Any] = {}
    if maker.two_figures:
        for name, at in (("tip", 6.0 * IN), ("butt", tube.raw_m - 8.0 * IN)):
            there = float(np.interp(at, tube.place_m, tube.ei))
            read = there * (1.0 + maker.two_figure_rel + float(rng.normal(0.0, 0.05)))
            more[f"{name}_ei_n_m2"], more[f"{name}_ei_at_in"] = float(round(read)), round(at / IN, 1)
    return replace(
        shaft,
        flex=_LETTERS[int(np.clip(letter, 0, 4))],
        kick_label=_KICK[int(np.clip(word, 0, 4))],
        weight_g=round(2.0 * (1e3 * tube.mass_kg + maker.weight_g + float(rng.normal(0.0, 0.85)))) / 2.0,
        torque_deg=round(twist + float(rng.normal(0.0, 0.18)), 1),
        torque_gauge_in=shaft.raw_length_in - 2.0 if shaft.raw_length_in else None,
        balance_from_tip_in=round(balance / IN + float(rng.normal(0.0, 0.14)), 1),
        **more,
    )


def fresh_shafts(count: int, seed: int, kind: str = "wood", makers: str = "A", in_model: int = 4) -> list[Tube]:
    """Nominal shafts.

    Parameters
    ----------
    count : int
        How many.
    seed : int
        Of models, flexes and leaflets; the makers depend on ``makers`` only.
    kind : str
        ``wood``, or ``iron`` (two in three of steel).
    makers : str
        Which six makers.
    in_model : int
        Flexes and weights a model comes in, about.
    """
    who = np.random.default_rng([ord(c) for c in f"makers {makers} {kind}"])
    houses = [_maker(who, f"Invented house {makers}{i}") for i in range(6)]
    rng = np.random.default_rng(seed)
    tubes: list[Tube] = []
    houses_of: list[_Maker] = []
    while len(tubes) < count:
        maker = houses[int(rng.integers(len(houses)))]
        for tube in _model(rng, maker, kind, len(tubes), in_model):
            tubes.append(tube)
            houses_of.append(maker)
    tubes, houses_of = tubes[:count], houses_of[:count]
    builds = [usual_build(t.shaft) for t in tubes]
    seen = true_features(tubes, np.full(count, 0.5 * IN), builds)
    sheets = [_leaflet(rng, m, t, float(f[0]), float(f[7])) for t, m, f in zip(tubes, houses_of, seen, strict=True)]
    # models of another seed are others, whatever their number
    return [
        replace(t, shaft=replace(s, id=f"{s.id}-{seed}", model=f"{s.model} of {seed}"))
        for t, s in zip(tubes, sheets, strict=True)
    ]


def _model(rng: np.random.Generator, maker: _Maker, kind: str, number: int, in_model: int) -> list[Tube]:
    steel = kind == "iron" and bool(rng.random() < 0.67)
    own = replace(  # a model is a variation of the maker's ways
        maker,
        modulus=maker.modulus * float(np.exp(rng.normal(0.0, 0.05))),
        bias=maker.bias * float(np.exp(rng.normal(0.0, 0.10))),
        tip_in=maker.tip_in * float(np.exp(rng.normal(0.0, 0.20))),
        tip_wall=maker.tip_wall * float(np.exp(rng.normal(0.0, 0.25))),
        outline=maker.outline * float(np.exp(rng.normal(0.0, 0.06))),
        first_step_in=maker.first_step_in + float(rng.normal(0.0, 0.8)),
    )
    classes = (
        (95.0, 105.0, 115.0, 125.0)
        if steel
        else (65.0, 75.0, 85.0, 95.0)
        if kind == "iron"
        else (45.0, 55.0, 65.0, 75.0)
    )
    middle = float(rng.choice(classes))
    raw_in = (41.0 if kind == "iron" else 46.0) + float(rng.choice([-0.5, 0.0, 0.0, 0.5]))
    pattern = int(rng.integers(1 << 31))
    out = []
    for k in range(max(1, int(rng.poisson(in_model)))):
        step = k % 4 - 1.5
        weight = middle + 10.0 * (k // 4) + 2.0 * step + float(rng.normal(0.0, 1.5))
        # letters of one model: some ten cpm apart, seven percent of stiffness
        tip_in = 0.370 if kind == "iron" else 0.335
        size = (raw_in * IN, tip_in * IN, weight * 1e-3)
        if steel:
            place, ei, gj, mass = _steel(rng, own, pattern, *size, float(np.exp(0.07 * step + rng.normal(0.0, 0.02))))
        else:
            cpm = usual_cpm(kind) + maker.letter_cpm + 0.4 * (weight - 55.0) * (kind == "wood")
            cpm += 10.0 * step + float(rng.normal(0.0, 3.0))
            place, ei, gj, mass = _graphite(rng, own, pattern, *size, cpm)
        shaft = Shaft(
            id=f"fresh-{maker.name[-2:].lower()}-{kind}-{number + k:04d}",
            maker=maker.name,
            model=f"model {number}",
            club_type=kind,
            material="steel" if steel else "graphite",
            raw_length_in=raw_in,
            tip_dia_in=tip_in,
            tip_form="parallel",
            tip_parallel_in=6.0,
            butt_dia_in=0.600,
            max_tip_trim_in=2.0,
        )
        out.append(Tube(place, ei, gj, mass, shaft))
    return out
