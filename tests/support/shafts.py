"""Invented shafts and clubs for tests of the mechanics."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from specdb.mechanics.build import Build
from specdb.mechanics.constants import FT_LB, IN, IN_OZ
from specdb.mechanics.profile import ShaftModel


def wood_shaft(
    rng: np.random.Generator, *, stations: int = 16, ripple: float = 0.05, with_torque: bool = True
) -> ShaftModel:
    """A graphite wood shaft of 46 in with a rippled profile and a full covariance."""
    # about evenly spread, as a table is, but nowhere in step with anything
    jitter = min(12.0 / stations, 1.2)
    place = (np.linspace(1.5, 43.5, stations) + rng.uniform(-jitter, jitter, stations)) * IN
    level = rng.uniform(0.85, 1.15)
    ei = level * (20.0 + 55.0 * (place / (46.0 * IN)) ** 1.3) * np.exp(rng.normal(0.0, ripple, stations))
    gap = (place[:, None] - place[None, :]) / (10.0 * IN)
    covariance = 0.015**2 + 0.02**2 * np.exp(-0.5 * gap**2) + 0.02**2 * np.eye(stations)
    return ShaftModel(
        raw_length_m=46.0 * IN,
        station_m=place,
        ei_n_m2=ei,
        log_ei_cov=covariance,
        mass_kg=float(rng.uniform(0.050, 0.080)),
        mass_sd_kg=0.0008,
        balance_from_tip_m=float(rng.uniform(0.47, 0.55)) * 46.0 * IN,
        balance_sd_m=0.004,
        twist_rad_per_nm=float(np.radians(rng.uniform(2.5, 5.5)) / FT_LB) if with_torque else None,
        twist_sd=float(np.radians(0.15) / FT_LB),
        twist_from_m=1.0 * IN,
        twist_to_m=45.0 * IN,
    )


def uniform_shaft(ei: float = 40.0, raw_in: float = 46.0, mass_kg: float = 0.060) -> ShaftModel:
    """A shaft of one stiffness and one mass per length."""
    return ShaftModel(
        raw_length_m=raw_in * IN,
        station_m=np.array([0.5 * raw_in * IN]),
        ei_n_m2=np.array([ei]),
        log_ei_cov=np.array([[0.02**2]]),
        mass_kg=mass_kg,
        mass_sd_kg=0.001,
        balance_from_tip_m=None,
        balance_sd_m=0.0,
        twist_rad_per_nm=float(np.radians(3.5) / FT_LB),
        twist_sd=0.0,
        twist_from_m=1.0 * IN,
        twist_to_m=(raw_in - 1.0) * IN,
    )


def driver_build(**changes: float) -> Build:
    """A 44.5 in driver with nothing restored; ``changes`` are fields of the build."""
    build = Build(
        cut_length_m=43.0 * IN,
        insertion_m=1.25 * IN,
        clamp_m=5.0 * IN,
        head_kg=0.198,
        head_cg_m=1.5 * IN,
        mouth_kg=0.004,
        grip_kg=0.050,
        grip_balance_m=4.1 * IN,
        grip_cap_m=0.1 * IN,
        head_kg_sd=0.0005,
        mouth_kg_sd=0.0001,
        grip_kg_sd=0.001,
        cut_length_sd_m=IN / 32.0,
        head_cg_sd_m=0.002,
        grip_balance_sd_m=0.003,
    )
    return replace(build, **changes)


D2_KG_M = (213.5 + 2 * 1.75) * IN_OZ
