"""Invented makers, suppliers and people. None is a golf company that the writers know of."""

from __future__ import annotations

SOURCE = "invented for the demonstration"

# shafts
HOLLIN = "Hollin Reach"
AMBREL = "Ambrel"
QUERN = "Quern Composites"
DUSKMERE = "Duskmere Laminates"
STAVELY = "Stavely Tube Works"
# heads and adapters
ORRIN_VALE = "Orrin Vale"
CASTELLAN = "Castellan Forge"
BRACKWATER = "Brackwater"
# grips
PELLOW = "Pellow"
KESTMOOR = "Kestmoor Grip Works"

GREYFEN = "Greyfen Trade Supply"
POSTERN = "Postern Components"
SUPPLIER = {
    HOLLIN: GREYFEN,
    AMBREL: POSTERN,
    QUERN: POSTERN,
    DUSKMERE: GREYFEN,
    STAVELY: GREYFEN,
    ORRIN_VALE: POSTERN,
    CASTELLAN: GREYFEN,
    BRACKWATER: POSTERN,
    PELLOW: GREYFEN,
    KESTMOOR: POSTERN,
}
# the shop's own people
FITTER = "Wilmot Dray"
BUILDER = "Petra Osk"
# first part of the keys of their goods
SHORT = {
    HOLLIN: "hollin-reach",
    AMBREL: "ambrel",
    QUERN: "quern",
    DUSKMERE: "duskmere",
    STAVELY: "stavely",
    ORRIN_VALE: "orrin-vale",
    CASTELLAN: "castellan",
    BRACKWATER: "brackwater",
    PELLOW: "pellow",
    KESTMOOR: "kestmoor",
}
