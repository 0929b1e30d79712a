"""Simulated fleets: real beds, real flows, and what a workbook would say about them.

Nothing of the audit is used. The catalogue's TOML files are read as they are; water, laws of expansion,
geometry and draws are this module's own. What is true of a unit:

- its grains are drawn evenly from the catalogue's ranges (or, as a variant, from triangles about its middle
  figures),
- its bed expands by another law than the one the audit's window rests on: Wen and Yu in the form of Cleasby
  and Fan (Hendricks 2011, eq. 12.53) or the Ergun form of Crittenden et al. (2012, eq. 11-15, from memory,
  unverified), one or the other by the toss of a coin, both on the d60 grain,
- its flow is the rating off by the restrictor's own tolerance, through a vessel of its own bore,
- it is too small where in the warmest water the expansion stays under the least of the medium, too large
  where in the coldest it is over the most, or the bed reaches the distributor. Where the two limits cross, it
  is judged against the interval between them.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.random import Generator

DATA = Path(__file__).resolve().parents[2] / "fleetaudit" / "data"
INCH, FOOT3, GPM = 0.0254, 0.028316846592, 6.30901964e-5
RATE = GPM / 0.09290304
GRAVITY = 9.80665
ZERO_C = 273.15
#: media whose grains the catalogue knows, that are washed alone and lifted as a whole
LEFT_OUT = {"garnet-30x60", "ilmenite-30x60", "magnesia-6x16", "manganese-ore-8x20"}
GRAIN = ("d10", "uniformity", "grain_density", "sphericity", "porosity")
#: constants of the Ergun form, viscous and inertial, for crushed coal and for sand (from memory, unverified)
COAL, SAND = np.array([210.0, 245.0, 3.5, 5.3]), np.array([110.0, 115.0, 2.0, 2.5])
#: families the constants were fitted to, and beads, which are rounder than sand; 1 is coal, 0 is sand
FITTED = {"anthracite": 1.0, "sand": 0.0, "cation-resin": 0.0, "anion-resin": 0.0}
COAL_LIKE = {"anthracite", "carbon", "light-aluminosilicate", "mno2-light-aluminosilicate"}


def _read(name: str) -> dict:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


MEDIA_FILE, VESSELS, SETTINGS = _read("media"), _read("vessels")["vessels"], _read("settings")["settings"]
MEDIA = {
    key: row
    for key, row in MEDIA_FILE["media"].items()
    if all(figure in row for figure in GRAIN) and "rate" in row and key not in LEFT_OUT
}
STOCK = (
    np.array(
        sorted(
            rating
            for rating in (
                1,
                1.5,
                2,
                2.5,
                3,
                3.5,
                4,
                5,
                6,
                7,
                8,
                9,
                10,
                12,
                15,
                17,
                20,
                25,
                30,
                35,
                40,
                45,
                50,
                60,
                75,
                100,
            )
        )
    )
    * GPM
)


def ends(key: str, figure: str) -> tuple[float, float, float]:
    """Low, middle and high of a figure in the file's own unit; a single figure has the range of its trust."""
    row = MEDIA[key][figure]
    spread = MEDIA_FILE["spread"][figure]
    level = {"high": 0, "medium": 1, "low": 2}[row.get("trust", "high")]
    middle = row.get("value", None)
    if "low" in row and "high" in row:
        low, high = row["low"], row["high"]
        return low, (low + high) / 2 if middle is None else middle, high
    return middle * (1 - spread[level]), middle, middle * (1 + spread[level])


def viscosity(t_c: np.ndarray) -> np.ndarray:
    """Viscosity of water [Pa s], Vogel's form; within 2 % between 0 and 40 C (from memory, unverified)."""
    return 2.414e-5 * 10 ** (247.8 / (t_c + ZERO_C - 140))


def density(t_c: np.ndarray) -> np.ndarray:
    """Density of water [kg/m3], a short fit to Kell's figures (from memory, unverified)."""
    return 1000 * (1 - (t_c + 288.9414) / (508929.2 * (t_c + 68.12963)) * (t_c - 3.9863) ** 2)


@dataclass
class Beds:
    """Real grains of each unit, SI."""

    d60: np.ndarray
    density: np.ndarray
    settled: np.ndarray
    law: np.ndarray
    viscous: np.ndarray
    inertial: np.ndarray
    sphericity: np.ndarray

    def velocity(self, expansion: np.ndarray, t_c: np.ndarray) -> np.ndarray:
        """Velocity at which the real bed expands so far, found by halving."""
        porosity = 1 - (1 - self.settled) / (1 + expansion)
        rho, mu = density(t_c), viscosity(t_c)
        lift = self.d60**3 * rho * (self.density - rho) * GRAVITY / mu**2
        low, high = np.full(len(porosity), 1e-7), np.full(len(porosity), 1e6)
        for _ in range(110):
            middle = np.sqrt(low * high)
            wen_yu = 18 * middle + 2.7 * middle**1.687 > porosity**4.7 * lift
            ergun = self.viscous * (1 - porosity) * middle + self.inertial * middle**2 > porosity**3 * lift
            drag = self.sphericity * middle / (6 * (1 - porosity))
            window = (
                3.137 * drag + 0.673 * drag**1.766
                > (porosity * self.sphericity) ** 3 / (1 - porosity) ** 2 * lift / 216
            )
            over = np.choose(self.law, [wen_yu, ergun, window])
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.sqrt(low * high) * mu / (rho * self.d60)


@dataclass
class Fleet:
    """A simulated fleet: what its workbook says, and whether each unit is really too small or too large."""

    rows: list[dict[str, str]]
    media: np.ndarray
    small: np.ndarray
    large: np.ndarray
    off: np.ndarray  # real flow over the limit it breaks, less 1; 0 where it breaks none

    @property
    def clear(self) -> np.ndarray:
        """True where the real flow is off its real window by a quarter or more."""
        return self.off >= 0.25


def draw(rng: Generator, low: np.ndarray, middle: np.ndarray, high: np.ndarray, shape: str) -> np.ndarray:
    """One value of each range: "even", or "peaked" about its middle."""
    low, middle, high = (np.asarray(end, dtype=float) for end in (low, middle, high))
    if shape == "even":
        return rng.uniform(low, high)
    flat = high <= low
    return np.where(flat, low, rng.triangular(low - flat, np.clip(middle, low, high), high + flat))


def setting(key: str) -> tuple[float, float]:
    """Range of a setting in the file's own unit."""
    return SETTINGS[key]["low"], SETTINGS[key]["high"]


def simulate(
    seed: int,
    units: int,
    *,
    documented: bool = True,
    measured: float = 0.3,
    fitted: str = "book",
    shape: str = "even",
    law: str = "both",
    constants: str = "anywhere",
) -> Fleet:
    """A fleet of one seed.

    `documented`: medium with its mesh, vessel, depth, freeboard and both temperatures are in the workbook;
    else each is often blank. `measured`: share with a bucket test. `fitted`: by what the restrictors of six
    units in ten were chosen, the rate in the "book" or what the "bed" really needs; the others are off from
    that by a factor of up to 3. A rating chosen by the bed tells of the bed, which nobody who reads the
    workbook can know; so the fleets by the book are the measure, and those by the bed show what that
    knowledge would change. `shape`: how grains lie in their ranges. `law`: "both", or "wen-yu", "ergun", or
    "window" for the law of the audit's own window. `constants` of the Ergun form for media they were not
    fitted to: "anywhere" between those of sand and of coal, or "by kind", coal's for crushed coal and light
    media and sand's for the rest.
    """
    rng = np.random.default_rng(seed)
    keys = np.array(list(MEDIA))
    said = rng.integers(0, len(keys), units)
    mesh = documented | (rng.random(units) < 0.4)
    real = _other_mesh(rng, keys, said, mesh)
    beds, band = _beds(rng, keys[real], shape, law, constants)

    names = list(VESSELS)
    which = rng.integers(2, len(names), units)
    nominal = np.array([VESSELS[name]["diameter"]["value"] for name in names])[which] * INCH
    bore = (
        np.array([(VESSELS[n]["inside"]["low"], VESSELS[n]["inside"]["high"]) for n in names])[which] * INCH
    )
    inside = rng.uniform(bore[:, 0], bore[:, 1])
    usual = np.array([VESSELS[name]["heights"]["usual"] for name in names])[which] * INCH
    other = np.array([rng.choice(VESSELS[names[place]]["heights"]["values"]) for place in which]) * INCH
    tall = np.where(rng.random(units) < 0.7, usual, other)
    fill = np.array([(VESSELS[n]["fill"]["low"], VESSELS[n]["fill"]["high"]) for n in names])[which] * FOOT3
    nominal_area, area = np.pi / 4 * nominal**2, np.pi / 4 * inside**2
    depth = rng.uniform(fill[:, 0], fill[:, 1]) / area * tall / usual
    gravel = rng.uniform(*setting("default_gravel_depth"), units) * INCH
    head = rng.uniform(*setting("dome_allowance"), units) / 100 * nominal
    head += rng.uniform(*setting("collector_allowance"), units) * INCH
    room = np.maximum(tall - head - depth - gravel, 0.08 * depth)
    depth = np.minimum(depth, (tall - head - gravel) / 1.08)

    source = rng.integers(0, 3, units)
    kinds = ("well", "mixed", "surface")
    cold = np.array([rng.uniform(*setting(f"water_{kinds[k]}_cold")) for k in source])
    warm = np.array([rng.uniform(*setting(f"water_{kinds[k]}_warm")) for k in source])

    low = beds.velocity(band[0], warm)
    high = np.minimum(beds.velocity(band[1], cold), beds.velocity(room / depth, cold))
    least, most = np.minimum(low, high) * area, np.maximum(low, high) * area
    rating = _fitted(rng, keys[said], nominal_area, np.sqrt(least * most), fitted)
    slack = rng.uniform(*setting("restrictor_tolerance"), units) / 100
    flow = rating * (1 + rng.uniform(-slack, slack))
    bucket = np.where(rng.random(units) < measured, flow, np.nan)
    error = rng.uniform(*setting("measured_flow_tolerance"), units) / 100
    bucket = bucket / (1 + rng.uniform(-error, error))

    small, large = flow < least, flow > most
    off = np.where(small, 1 - flow / least, np.where(large, flow / most - 1, 0.0))
    rows = _workbook(
        rng,
        documented,
        keys[said],
        mesh,
        nominal,
        tall,
        depth,
        gravel,
        room,
        cold,
        warm,
        [kinds[k] for k in source],
        rating,
        bucket,
    )
    return Fleet(rows, keys[said], small, large, off)


def _other_mesh(rng: Generator, keys: np.ndarray, said: np.ndarray, mesh: np.ndarray) -> np.ndarray:
    """The medium that really is in the vessel: half of those without a mesh hold another one of the same
    family.
    """
    families = np.array([MEDIA[key]["family"] for key in keys])
    real = said.copy()
    for unit in np.flatnonzero(~mesh):
        others = np.flatnonzero((families == families[said[unit]]) & (np.arange(len(keys)) != said[unit]))
        if len(others) and rng.random() < 0.5:
            real[unit] = rng.choice(others)
    return real


def _beds(
    rng: Generator, media: np.ndarray, shape: str, law: str, constants: str
) -> tuple[Beds, tuple[np.ndarray, np.ndarray]]:
    table = {key: [ends(key, figure) for figure in GRAIN] for key in MEDIA}
    grain = np.array([table[key] for key in media])
    d10, uniformity, rho_s, psi, settled = (
        draw(rng, *grain[:, place].T, shape) for place in range(len(GRAIN))
    )
    d60 = d10 * np.maximum(uniformity, 1.0) * 1e-3
    by_ergun = rng.random(len(media)) < {"both": 0.5, "wen-yu": 0.0, "ergun": 1.0, "window": 0.0}[law]
    which = np.full(len(media), 2) if law == "window" else by_ergun.astype(int)
    psi = np.minimum(psi, 1.0)
    psi = psi + rng.random(len(media)) * (1 - psi) / 2
    families = [MEDIA[key]["family"] for key in media]
    anywhere = np.array([FITTED.get(family, np.nan) for family in families])
    anywhere = np.where(np.isnan(anywhere), rng.random(len(media)), anywhere)
    if constants == "by kind":
        anywhere = np.array([float(family in COAL_LIKE) for family in families])
    fitted = SAND + anywhere[:, None] * (COAL - SAND)
    viscous = rng.uniform(fitted[:, 0], fitted[:, 1])
    inertial = rng.uniform(fitted[:, 2], fitted[:, 3])
    band = (
        np.array([(MEDIA[key]["expansion"]["low"], MEDIA[key]["expansion"]["high"]) for key in media]) / 100
    )
    return Beds(d60, rho_s, settled, which, viscous, inertial, psi), (band[:, 0], band[:, 1])


def _fitted(rng: Generator, said: np.ndarray, area: np.ndarray, needed: np.ndarray, by: str) -> np.ndarray:
    """Ratings in the vessels: six in ten right by book or by bed, the others off by up to a factor of 3."""
    rates = np.array([(MEDIA[key]["rate"]["low"], MEDIA[key]["rate"]["high"]) for key in said]) * RATE
    book = np.sqrt(rates[:, 0] * rates[:, 1]) * area
    use_book = rng.random(len(said)) < {"book": 1.0, "bed": 0.0, "both": 0.5}[by]
    wanted = np.where(use_book, book, needed)
    wrong = rng.random(len(said)) < 0.4
    wanted = wanted * np.where(wrong, np.exp(rng.uniform(-np.log(3), np.log(3), len(said))), 1.0)
    away = np.abs(np.log(STOCK)[None, :] - np.log(wanted)[:, None])
    return STOCK[away.argmin(axis=1)]


def _workbook(
    rng: Generator,
    documented: bool,
    media: np.ndarray,
    mesh: np.ndarray,
    nominal: np.ndarray,
    tall: np.ndarray,
    depth: np.ndarray,
    gravel: np.ndarray,
    room: np.ndarray,
    cold: np.ndarray,
    warm: np.ndarray,
    source: list[str],
    rating: np.ndarray,
    bucket: np.ndarray,
) -> list[dict[str, str]]:
    """What people wrote down: lengths to an inch or so, temperatures to a degree, much of it left blank."""
    units = len(media)
    given = {
        name: documented | (rng.random(units) < share)
        for name, share in (("tall", 0.9), ("depth", 0.4), ("room", 0.3), ("water", 0.4), ("source", 0.6))
    }
    read_depth, read_room = (rng.uniform(-INCH, INCH, units) for _ in range(2))
    read_cold, read_warm = (rng.uniform(-1, 1, units) for _ in range(2))
    rows = []
    for u in range(units):

        def cell(name: str, value: float, unit: str, u: int = u) -> str:
            return f"{value:.6g} {unit}" if given[name][u] else ""

        rows.append(
            {
                "vessel_diameter": f"{nominal[u] / INCH:.6g} in",
                "medium": str(media[u]),
                "mesh_stated": "yes" if mesh[u] else "no",
                "restrictor": f"{rating[u] / GPM:.6g} gpm",
                "measured_flow": "" if np.isnan(bucket[u]) else f"{bucket[u] / GPM:.6g} gpm",
                "vessel_height": cell("tall", tall[u] / INCH, "in"),
                "bed_depth": cell("depth", max(depth[u] + read_depth[u], INCH) / INCH, "in"),
                "gravel_depth": f"{gravel[u] / INCH:.6g} in",
                "freeboard": cell("room", max(room[u] + read_room[u], 0.0) / INCH, "in"),
                "water_cold": cell("water", cold[u] + read_cold[u], "degC"),
                "water_warm": cell(
                    "water", max(warm[u] + read_warm[u], cold[u] + read_cold[u] + 0.1), "degC"
                ),
                "water_source": source[u] if given["source"][u] or source[u] == "mixed" else "",
            }
        )
    return rows
