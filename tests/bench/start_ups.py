"""Whole start-ups: how the dial-in fares beside bisection and proportional control."""

from tests.start_ups import OXIDANTS, WAYS, WAYS_TO_READ, fare, follow, houses

from . import clock

SEED = "fresh"


def show(count, seed=SEED, oxidants=OXIDANTS, ways_to_read=WAYS_TO_READ):
    print(f"\nStart-ups of {count} invented houses for each oxidant and kit, percent of the houses")
    print(
        f"{'':34}{'stops':>7}{'good':>7}{'short':>7}{'harm':>7}"
        f"{'readings':>10}{'in 4 settings':>15}{'ms':>7}"
    )
    for oxidant in oxidants:
        for kit in ways_to_read:
            for name, way in WAYS.items():
                _row(f"{oxidant}, {kit}: {name}", houses(oxidant, count, seed), way, kit)


def _row(title, some, way, kit):
    began = clock.now()
    followed = [follow(house, way, kit) for house in some]
    each = 1000 * (clock.now() - began) / sum(went.readings for went in followed)
    fared = fare(followed)
    against = f"  {fared.forbidden} raises against the reading" if fared.forbidden else ""
    print(
        f"{title:34}{fared.stops:7.1f}{fared.good:7.1f}{fared.short:7.1f}{fared.harmful:7.2f}"
        f"{fared.median:7} /{fared.nine_tenths:2}{fared.within_four:15.1f}{each:7.1f}{against}",
        flush=True,
    )
