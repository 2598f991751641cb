"""One frozen record a table. Made from ``data_schema/`` by ``specdb.records.generate``: do not edit."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """A raw shaft as its maker sells it. Published values only; what the bench measured is kept as shaft readings."""

    id: str
    club_type: str
    maker: str | None = None
    model: str | None = None
    flex: str | None = None
    club_number: str | None = None
    material: str | None = None
    raw_length_in: float | None = None
    weight_g: float | None = None
    tip_dia_in: float | None = None
    tip_form: str | None = None
    tip_parallel_in: float | None = None
    tip_growth_in_per_in: float | None = None
    butt_dia_in: float | None = None
    torque_deg: float | None = None
    torque_gauge_in: float | None = None
    balance_from_tip_in: float | None = None
    kick_label: str | None = None
    tip_ei_n_m2: float | None = None
    tip_ei_at_in: float | None = None
    butt_ei_n_m2: float | None = None
    butt_ei_at_in: float | None = None
    max_tip_trim_in: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftReading:
    """One reading: a published table entry or a measurement on the bench, on one physical piece."""

    id: str
    shaft_id: str
    sample: str
    quantity: str
    value: float
    position_in: float | None = None
    span_in: float | None = None
    free_length_in: float | None = None
    tip_mass_g: float | None = None
    load_n: float | None = None
    sd: float | None = None
    instrument: str | None = None
    taken_on: dt.date | None = None
    taken_by: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceReading:
    """One reading of a reference piece or standard weight, by which an instrument of the shop is calibrated."""

    id: str
    instrument: str
    reference: str
    quantity: str
    value: float
    true_value: float
    true_sd: float | None = None
    position_in: float | None = None
    span_in: float | None = None
    free_length_in: float | None = None
    tip_mass_g: float | None = None
    load_n: float | None = None
    taken_on: dt.date | None = None
    repeat: int | None = None
    taken_by: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A head of a club, of one number, hand and loft."""

    id: str
    club_type: str
    hand: str
    maker: str | None = None
    model: str | None = None
    number: str | None = None
    loft_deg: float | None = None
    lie_deg: float | None = None
    face_angle_deg: float | None = None
    offset_in: float | None = None
    volume_cc: float | None = None
    weight_g: float | None = None
    material: str | None = None
    construction: str | None = None
    bore_dia_in: float | None = None
    bore_form: str | None = None
    bore_depth_in: float | None = None
    bore_kind: str | None = None
    bore_to_ground_in: float | None = None
    hosel_outer_dia_in: float | None = None
    hosel_material: str | None = None
    max_ream_dia_in: float | None = None
    max_bend_deg: float | None = None
    cg_below_mouth_in: float | None = None
    connection: str | None = None
    seat_to_ground_in: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Adapter:
    """The part between shaft and a head with a connection."""

    id: str
    connection: str
    maker: str | None = None
    model: str | None = None
    hand: str | None = None
    bore_dia_in: float | None = None
    bore_form: str | None = None
    bore_depth_in: float | None = None
    bore_to_seat_in: float | None = None
    weight_g: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AdapterSetting:
    """One setting of an adapter and what it does to the head."""

    adapter_id: str
    setting: str
    loft_change_deg: float | None = None
    lie_change_deg: float | None = None
    face_change_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sleeve:
    """A thin tube between a tip and a larger bore."""

    id: str
    inner_dia_in: float
    outer_dia_in: float
    inner_form: str | None = None
    outer_form: str | None = None
    length_in: float | None = None
    weight_g: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ferrule:
    """The collar above the hosel."""

    id: str
    inner_dia_in: float
    outer_dia_in: float | None = None
    length_in: float | None = None
    weight_g: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """A grip."""

    id: str
    maker: str | None = None
    model: str | None = None
    weight_g: float | None = None
    core_dia_in: float | None = None
    length_in: float | None = None
    cap_in: float | None = None
    balance_from_cap_in: float | None = None
    rib: str | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Adhesive:
    """An adhesive for the tip."""

    id: str
    shear_mpa: float | None = None
    gap_min_in: float | None = None
    gap_max_in: float | None = None
    cure_hours: float | None = None
    supplier: str | None = None
    supplier_code: str | None = None
    price: float | None = None
    currency: str | None = None
    status: str | None = None
    source: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockMove:
    """Append-only ledger; stock on hand is the sum of its quantities."""

    id: str
    kind: str
    item_id: str
    quantity: int
    reason: str
    location: str | None = None
    on: dt.date | None = None
    by: str | None = None
    order_ref: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What is on order with a supplier, or known to be out of stock there."""

    id: str
    kind: str
    item_id: str
    ordered: int | None = None
    expected_on: dt.date | None = None
    backordered: bool | None = None
    supplier: str | None = None
    asked_on: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Club:
    """A fitted club: the reference to reproduce."""

    id: str
    head_id: str
    shaft_id: str
    playing_length_in: float
    player: str | None = None
    label: str | None = None
    set_id: str | None = None
    adapter_id: str | None = None
    adapter_setting: str | None = None
    sleeve_id: str | None = None
    ferrule_id: str | None = None
    shaft_sample: str | None = None
    tip_trim_in: float | None = None
    insertion_in: float | None = None
    grip_id: str | None = None
    adhesive_id: str | None = None
    swingweight: str | None = None
    head_add_g: float | None = None
    loft_deg: float | None = None
    lie_deg: float | None = None
    frequency_cpm: float | None = None
    frequency_clamp_in: float | None = None
    fitted_on: dt.date | None = None
    fitted_by: str | None = None
    status: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighting:
    """A named set of tolerances and weights for comparing clubs; an empty cell takes the default."""

    id: str
    frequency_unit: float | None = None
    tip_ei_unit: float | None = None
    mid_ei_unit: float | None = None
    butt_ei_unit: float | None = None
    torque_unit: float | None = None
    shaft_weight_unit: float | None = None
    balance_unit: float | None = None
    kick_point_unit: float | None = None
    total_weight_unit: float | None = None
    moi_unit: float | None = None
    frequency_weight: float | None = None
    tip_ei_weight: float | None = None
    mid_ei_weight: float | None = None
    butt_ei_weight: float | None = None
    torque_weight: float | None = None
    shaft_weight_weight: float | None = None
    balance_weight: float | None = None
    kick_point_weight: float | None = None
    total_weight_weight: float | None = None
    moi_weight: float | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A stand-in chosen or turned down for one fitted club, with who and why; it counts for that club only."""

    id: str
    club_id: str
    shaft_id: str
    decision: str
    tip_trim_in: float | None = None
    score: float | None = None
    by: str | None = None
    on: dt.date | None = None
    decided_no: int | None = None
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """An order of a customer: clubs or sets to be built by a day."""

    id: str
    state: str
    customer: str | None = None
    wanted_on: dt.date | None = None
    taken_on: dt.date | None = None
    taken_by: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One line of an order: a fitted club or a fitted set, so many times."""

    order_id: str
    line: int
    quantity: int
    club_id: str | None = None
    set_id: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reservation:
    """A part on hand that is kept for one club of an order, or was used for it."""

    id: str
    order_id: str
    line: int
    unit: int
    club_id: str
    kind: str
    item_id: str
    quantity: int
    state: str
    on: dt.date | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBuilt:
    """One value measured on a finished club, beside what was expected, or the reason why it was not measured."""

    id: str
    club_id: str
    quantity: str
    order_id: str | None = None
    line: int | None = None
    unit: int | None = None
    shaft_id: str | None = None
    shaft_sample: str | None = None
    value: float | None = None
    clamp_in: float | None = None
    tip_trim_in: float | None = None
    insertion_in: float | None = None
    cut_length_in: float | None = None
    head_g: float | None = None
    head_cg_in: float | None = None
    mouth_g: float | None = None
    waived: str | None = None
    expected: float | None = None
    expected_sd: float | None = None
    instrument: str | None = None
    taken_on: dt.date | None = None
    taken_by: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Every change: what, when, who, before, after, why. Written by the catalogue, never imported."""

    change_no: int
    row_no: int
    at: dt.datetime
    kind: str
    item_key: str
    action: str
    by: str | None = None
    why: str | None = None
    done: str | None = None
    before: str | None = None
    after: str | None = None
    undoes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileEstimate:
    """Estimated stiffness profile of a shaft without a complete EI table. Worked out from the other tables, never imported; forgotten as soon as the shaft or a reading of it changes."""

    shaft_id: str
    population_no: int
    group_no: int
    piece_sd: float
    readings: int
    outliers: int
    state: tuple[float, ...] | None = None
    covariance: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PopulationModel:
    """What the shafts of this catalogue are usually like, learned from those with EI tables. Worked out, never imported; the newest counts."""

    population_no: int
    recipe: int
    made_on: dt.datetime
    teachers: int
    known_makers: int
    content: str
    error_tip_pct: float | None = None
    error_mid_pct: float | None = None
    error_butt_pct: float | None = None


RECORDS: dict[str, type] = {
    "shaft": Shaft,
    "shaft_reading": ShaftReading,
    "reference_reading": ReferenceReading,
    "head": Head,
    "adapter": Adapter,
    "adapter_setting": AdapterSetting,
    "sleeve": Sleeve,
    "ferrule": Ferrule,
    "grip": Grip,
    "adhesive": Adhesive,
    "stock_move": StockMove,
    "supply": Supply,
    "club": Club,
    "weighting": Weighting,
    "choice": Choice,
    "order": Order,
    "order_line": OrderLine,
    "reservation": Reservation,
    "as_built": AsBuilt,
    "change": Change,
    "profile_estimate": ProfileEstimate,
    "population_model": PopulationModel,
}
