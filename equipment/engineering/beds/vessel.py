"""Filter beds: area, contact and rate; media to fill a vessel; flow by bucket.

Contents: bucket_flow, bed, media_fill.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput
from equipment.engineering.factors import (
    GALLONS_PER_FT3,
    INCHES_PER_FOOT,
    SECONDS_PER_MINUTE,
    circle_ft2,
    cylinder_gal,
)
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, magnitude

from .media import MEDIA, Medium, medium

GAL = "gal"
SECOND = "s"
TOO_SHORT = "Less than 10 s: too short to time by hand, use a larger bucket."
#: two vessels never share evenly: the busier one is taken to carry 60 percent (PRACTICE)
BUSIER_SHARE_OF_TWO = 0.6
#: room above the bed for the wash when the medium is not named (PRACTICE)
FREEBOARD_PERCENT = 50.0


class BucketFlow(Answer):
    method: ClassVar[str] = "bucket/1"

    flow: Quantity = result("gpm", "flow while the bucket filled")


def bucket_flow(*, volume: Quantity, time: Quantity) -> BucketFlow:
    """Flow from a bucket and a watch.

    Q = V / t

    volume    V, water caught            [volume]  above 0, at most 100 gal
    time      t, time to fill            [time]    1 to 3600 s
    returns   Q, flow                    gpm

    Raises OutOfRange outside those limits, WrongUnit on a bare number or another dimension.
    Source: definition of flow. Common practice, no source: 5 gal bucket, read after 5 min.
    """
    gallons = magnitude("volume", volume, GAL)
    seconds = magnitude("time", time, SECOND)
    if not 0 < gallons <= 100:
        raise OutOfRange("volume", f"must be above 0 and at most 100 gal, got {gallons:g} gal")
    if not 1 <= seconds <= 3600:
        raise OutOfRange("time", f"must be 1 to 3600 s, got {seconds:g} s")
    flow = _bucket_flow(gallons, seconds)
    return BucketFlow(
        flow=q(flow, "gpm"),
        warnings=(TOO_SHORT,) if seconds < 10 else (),
        sources=("Definition of flow (volume by time).",),
        working=(f"flow = volume / time = {gallons:g} gal / {seconds:g} s = {flow:.4g} gpm",),
    )


def _bucket_flow(gallons: float, seconds: float) -> float:
    return gallons / seconds * SECONDS_PER_MINUTE


register(
    Calculation(
        name="bucket-flow",
        title="Flow by bucket and watch",
        function=bucket_flow,
        answer=BucketFlow,
        keys=(
            Key(
                name="volume",
                unit=GAL,
                required=True,
                low=0,
                low_open=True,
                high=100,
                help="water caught in the bucket",
            ),
            Key(
                name="time",
                unit=SECOND,
                required=True,
                low=1,
                high=3600,
                help="time it took to fill",
            ),
        ),
    )
)


DIAMETER = Key(
    name="diameter",
    unit="in",
    required=True,
    low=4,
    high=72,
    help="vessel diameter; the nominal one reads 1 to 3 percent of area high",
)
BED_DEPTH = Key(name="bed_depth", unit="in", low=1, high=120, help="depth of media at rest")
BED_VOLUME = Key(name="bed_volume", unit="ft3", low=0.05, high=500, help="media in one vessel")
SERVICE_FLOW = Key(
    name="flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="peak draw of the house, through all vessels together",
)
PARALLEL_COUNT = Key(
    name="parallel_count",
    kind="number",
    low=1,
    high=8,
    default="1",
    help="equal vessels side by side",
)
SPLIT = Key(
    name="split",
    unit="percent",
    low=1,
    high=99,
    help="share of one of the vessels; 60 percent of two when not given",
)
MEDIA_SLUG = Key(
    name="media", kind="choice", choices=tuple(MEDIA), help="medium, for its service limits"
)


class Bed(Answer):
    method: ClassVar[str] = "bed/1"

    area: Quantity = result("ft2", "bed area of one vessel")
    bed_volume: Quantity = result("ft3", "media in one vessel")
    bed_depth: Quantity = result("in", "depth of media at rest")
    vessel_flow: Quantity = result("gpm", "flow through the busiest vessel")
    ebct: Quantity = result("min", "empty-bed contact time in the busiest vessel")
    service_rate: Quantity = result("gpm/ft2", "flow by bed area in the busiest vessel")
    volume_rate: Quantity = result("gpm/ft3", "flow by media volume in the busiest vessel")
    ebct_during_wash: Quantity | None = result(
        "min", "contact time while another vessel is backwashed"
    )
    service_rate_during_wash: Quantity | None = result(
        "gpm/ft2", "by area while another vessel is backwashed"
    )
    volume_rate_during_wash: Quantity | None = result(
        "gpm/ft3", "by volume while another vessel is backwashed"
    )


def bed(
    *,
    diameter: Quantity,
    bed_depth: Quantity | None = None,
    bed_volume: Quantity | None = None,
    flow: Quantity | None = None,
    parallel_count: float = 1,
    split: Quantity | None = None,
    media: str | None = None,
) -> Bed:
    """Bed area, contact time and service rate of one vessel at the peak draw.

    A = pi D^2 / 4;  V = A h;  EBCT = V / Q;  rate = Q / A and Q / V

    diameter        D, of one vessel               [length]  4 to 72 in
    bed_depth       h, media at rest, or           [length]  1 to 120 in
    bed_volume      V, media in one vessel         [volume]  0.05 to 500 ft3
    flow            peak draw, all vessels         [flow]    above 0, at most 500 gpm
    parallel_count  equal vessels side by side     [bare]    1 to 8
    split           share of one vessel            percent   1 to 99; of two 60 when not given
    media           slug, adds the service limits  text
    returns         area ft2, volume ft3, depth in, EBCT min, rates gpm/ft2 and gpm/ft3

    Of n vessels the busiest carries split x Q (default 1.2 Q / n); while one is washed the others
    carry everything. Raises OutOfRange, MissingInput (neither depth nor volume), WrongInput (both).
    Source: definitions. The 60/40 split is common practice, no source.
    """
    inches = DIAMETER.amount(diameter)
    count = _whole_vessels(parallel_count)
    area = circle_ft2(inches)
    cubic_feet, depth = _fill(area, bed_depth, bed_volume)
    gpm = SERVICE_FLOW.optional(flow)
    share = busiest_share(count, SPLIT.optional(split))
    material = None if media is None else medium("media", media)
    working = [
        f"area = pi / 4 x ({inches:g} in)^2 = {area:.4g} ft2",
        f"volume = area x depth = {area:.4g} ft2 x {depth:.4g} in = {cubic_feet:.4g} ft3",
    ]
    if gpm is None:
        return Bed(
            area=q(area, "ft2"),
            bed_volume=q(cubic_feet, "ft3"),
            bed_depth=q(depth, "in"),
            sources=("Definitions of area and volume.",),
            working=tuple(working),
        )
    busiest = gpm * share
    washing = gpm * busiest_share(count - 1, None) if count > 1 else None
    contact = contact_min(cubic_feet, busiest)
    working.append(
        f"contact = volume / flow = {cubic_feet:.4g} ft3 x 7.4805 gal/ft3 / {busiest:.4g} gpm"
        f" = {contact:.3g} min"
    )
    return Bed(
        area=q(area, "ft2"),
        bed_volume=q(cubic_feet, "ft3"),
        bed_depth=q(depth, "in"),
        vessel_flow=q(busiest, "gpm"),
        ebct=q(contact, "min"),
        service_rate=q(busiest / area, "gpm/ft2"),
        volume_rate=q(busiest / cubic_feet, "gpm/ft3"),
        ebct_during_wash=q(washing and contact_min(cubic_feet, washing), "min"),
        service_rate_during_wash=q(washing and washing / area, "gpm/ft2"),
        volume_rate_during_wash=q(washing and washing / cubic_feet, "gpm/ft3"),
        warnings=tuple(_service_warnings(material, area, cubic_feet, busiest, washing)),
        sources=("Definitions of area, empty-bed contact time and service rate.",)
        + ((material.service_source,) if material and material.service_rate else ()),
        working=tuple(working),
    )


def shell_gal(diameter_in: float, height_in: float) -> float:
    """Gross water of a round vessel; media and domes are not taken off, which errs high."""
    return cylinder_gal(diameter_in, height_in / INCHES_PER_FOOT)


def contact_min(cubic_feet: float, gpm: float) -> float:
    """Empty-bed contact time."""
    return cubic_feet * GALLONS_PER_FT3 / gpm


def _whole_vessels(count: float) -> int:
    vessels = PARALLEL_COUNT.amount(count)
    if vessels != int(vessels):
        raise WrongInput("parallel_count", f"must be a whole number, got {vessels:g}")
    return int(vessels)


def _fill(
    area: float, bed_depth: Quantity | None, bed_volume: Quantity | None
) -> tuple[float, float]:
    """Volume in ft3 and depth in inches, from the one that is given."""
    depth, volume = BED_DEPTH.optional(bed_depth), BED_VOLUME.optional(bed_volume)
    if depth is not None and volume is not None:
        raise WrongInput("bed_volume", "is given beside bed_depth; give one of the two")
    if depth is not None:
        return area * depth / INCHES_PER_FOOT, depth
    if volume is not None:
        return volume, volume / area * INCHES_PER_FOOT
    raise MissingInput("bed_depth", "is missing; give bed_depth or bed_volume")


def busiest_share(count: int, split_percent: float | None = None) -> float:
    """Share of the flow in the vessel that carries the most of `count`."""
    if count == 1:
        if split_percent is not None:
            raise WrongInput("split", "applies to parallel_count 2 or more only")
        return 1.0
    if split_percent is None:
        return 2 * BUSIER_SHARE_OF_TWO / count
    share = split_percent / 100
    return max(share, (1 - share) / (count - 1))


def _service_warnings(
    material: Medium | None, area: float, volume: float, busiest: float, washing: float | None
) -> list[str]:
    """Where the flow asks more of the medium than it is good for."""
    found = []
    if washing is not None:
        found.append(
            f"While one vessel is backwashed the others carry up to {washing:.3g} gpm each, or the"
            " house gets untreated water: check which at the valve."
        )
    if material is None:
        return found
    worst = max(busiest, washing or 0)
    if material.service_rate and worst / area > material.service_rate:
        found.append(
            f"{worst / area:.3g} gpm/ft2 is above the {material.service_rate:g} gpm/ft2 of"
            f" {material.title.lower()}."
        )
    if material.contact and contact_min(volume, worst) < material.contact:
        found.append(
            f"{contact_min(volume, worst):.2g} min of contact is below the"
            f" {material.contact:g} min common for {material.title.lower()}."
        )
    return found


register(
    Calculation(
        name="bed",
        title="Bed area, contact time and service rate",
        function=bed,
        answer=Bed,
        keys=(DIAMETER, BED_DEPTH, BED_VOLUME, SERVICE_FLOW, PARALLEL_COUNT, SPLIT, MEDIA_SLUG),
    )
)


UNDERBED_DEPTH = Key(
    name="underbed_depth",
    unit="in",
    low=0,
    high=36,
    default="0",
    help="gravel below the bed, bottom dome not counted",
)
FREEBOARD = Key(
    name="freeboard",
    unit="percent",
    low=0,
    high=150,
    default="50 percent",
    help="room above the bed for the backwash, of the bed depth",
)


class MediaFill(Answer):
    method: ClassVar[str] = "fill/1"

    media: Quantity = result("ft3", "media to fill")
    underbed: Quantity | None = result("ft3", "gravel below the bed")
    vessel_height: Quantity = result("in", "straight height needed: gravel, bed and freeboard")


def media_fill(
    *,
    diameter: Quantity,
    bed_depth: Quantity,
    underbed_depth: Quantity | None = None,
    freeboard: Quantity | None = None,
) -> MediaFill:
    """Media and gravel for a vessel, and the height the expanded bed needs.

    V = pi D^2 / 4 h;  H = h_gravel + h (1 + freeboard)

    diameter        D                               [length]  4 to 72 in
    bed_depth       h                               [length]  1 to 120 in
    underbed_depth  gravel                          [length]  0 to 36 in, default 0
    freeboard       of the bed depth                percent   0 to 150, default 50 (PRACTICE)
    returns         media ft3, underbed ft3, vessel_height in

    The domes are not counted. Raises OutOfRange outside those limits.
    Source: geometry. Freeboard 50 percent, 30 to 40 for ore: common practice, no source.
    """
    area = circle_ft2(DIAMETER.amount(diameter))
    depth = BED_DEPTH.amount(bed_depth)
    gravel = UNDERBED_DEPTH.optional(underbed_depth) or 0.0
    room = FREEBOARD.optional(freeboard)
    room = FREEBOARD_PERCENT if room is None else room
    height = gravel + depth * (1 + room / 100)
    media, underbed = area * depth / INCHES_PER_FOOT, area * gravel / INCHES_PER_FOOT
    return MediaFill(
        media=q(media, "ft3"),
        underbed=q(underbed, "ft3") if gravel else None,
        vessel_height=q(height, "in"),
        cautions=("Wear a dust mask and goggles when you pour dry media.",),
        sources=("Geometry of a cylinder; domes not counted.",),
        working=(
            f"media = {area:.4g} ft2 x {depth:g} in / 12 = {media:.3g} ft3",
            f"height = {gravel:g} + {depth:g} x (1 + {room:g} / 100) = {height:.3g} in",
        ),
    )


register(
    Calculation(
        name="media-fill",
        title="Media to fill a vessel",
        function=media_fill,
        answer=MediaFill,
        keys=(
            DIAMETER,
            Key(
                name="bed_depth",
                unit="in",
                required=True,
                low=1,
                high=120,
                help="depth of media wanted",
            ),
            UNDERBED_DEPTH,
            FREEBOARD,
        ),
    )
)
