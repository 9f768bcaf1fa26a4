"""Invented households for the search: names, streets, tags and numbers as callers say them.

Names are built from parts, the same ones for the same number; telephones are 555-0100 to
555-0199 under any area code, so that so many households can have one each.
"""

from datetime import date, timedelta
from itertools import islice
from random import Random

from equipment.models import Site, Stage, Train, Well
from equipment.models.sites import street_key
from jobs.models import Customer, SiteTenure
from jobs.search.index import rebuild

CHUNK = 2000
SINCE = date(2015, 3, 1)
FIRST = [
    "Ada",
    "Albin",
    "Anselm",
    "Berit",
    "Bruno",
    "Celia",
    "Clemens",
    "Dagny",
    "Edda",
    "Elias",
    "Emeric",
    "Fenja",
    "Florin",
    "Gerda",
    "Gustav",
    "Hedda",
    "Hollis",
    "Ilse",
    "Ivo",
    "Jorun",
    "Kaspar",
    "Lenore",
    "Linus",
    "Magda",
    "Matthis",
    "Nelda",
    "Norbert",
    "Odile",
    "Oskar",
    "Petra",
    "Quentin",
    "Ragna",
    "Rupert",
    "Selma",
    "Sigurd",
    "Thekla",
    "Tobias",
    "Ulla",
    "Viktor",
    "Wanda",
    "Wilhelm",
    "Yara",
    "Zeno",
]
BEGIN = [
    "Al",
    "Ander",
    "Bal",
    "Bar",
    "Ber",
    "Brand",
    "Bren",
    "Cal",
    "Car",
    "Chris",
    "Dal",
    "Dor",
    "El",
    "Em",
    "Fal",
    "Fer",
    "Gal",
    "Gar",
    "Hal",
    "Har",
    "Hen",
    "Ing",
    "Jan",
    "Kal",
    "Ker",
    "Lam",
    "Lind",
    "Mar",
    "Mor",
    "Nor",
    "Ost",
    "Pal",
    "Per",
    "Ran",
    "Rom",
    "Sand",
    "Sel",
    "Stav",
    "Tal",
    "Thor",
    "Ul",
    "Van",
    "Ver",
    "Wal",
    "Wes",
    "Win",
    "Yor",
    "Zim",
]
MIDDLE = ["a", "e", "i", "o", "en", "er", "in", "on", "el", "ar"]
END = [
    "bach",
    "berg",
    "borg",
    "by",
    "dahl",
    "dorf",
    "feld",
    "ford",
    "gaard",
    "gren",
    "haus",
    "holm",
    "kamp",
    "lund",
    "mann",
    "mark",
    "mond",
    "mund",
    "quist",
    "rup",
    "sen",
    "shaw",
    "sohn",
    "son",
    "stad",
    "stein",
    "sund",
    "thal",
    "thorp",
    "vik",
    "wald",
    "wick",
    "worth",
]
ROADS = ["Road", "Lane", "Street", "Avenue", "Drive", "Court"]
STREETS = [
    "Alder",
    "Amber",
    "Ash",
    "Badger",
    "Beacon",
    "Birch",
    "Bramble",
    "Brook",
    "Cedar",
    "Chapel",
    "Cinder",
    "Clover",
    "Cooper",
    "Copper",
    "Crane",
    "Elder",
    "Falcon",
    "Fern",
    "Flint",
    "Foxglove",
    "Gander",
    "Glen",
    "Granite",
    "Harrow",
    "Hazel",
    "Heron",
    "Holly",
    "Hunter",
    "Juniper",
    "Kestrel",
    "Larch",
    "Linden",
    "Maple",
    "Marsh",
    "Meadow",
    "Mill",
    "Moss",
    "Orchard",
    "Otter",
    "Partridge",
    "Pebble",
    "Pine",
    "Plover",
    "Quarry",
    "Raven",
    "Reed",
    "Ridge",
    "Robin",
    "Rowan",
    "Sable",
    "Saddle",
    "Slate",
    "Sorrel",
    "Spruce",
    "Stone",
    "Swallow",
    "Thistle",
    "Timber",
    "Walnut",
    "Willow",
]
SECOND = [
    "Hollow",
    "Crest",
    "Bend",
    "Ridge",
    "Valley",
    "Crossing",
    "Farm",
    "Hill",
    "Grove",
    "Landing",
    "Point",
    "Run",
]
TOWNS = [
    "Kestrel Ford",
    "Larkmoor",
    "Fenn Hollow",
    "Brackwater",
    "Tolland Mills",
    "Upper Saxby",
    "Dunmere",
    "Oxley Green",
    "Port Calder",
    "Stillwell",
    "Marrow Creek",
    "East Wexcombe",
]


def surname(n):
    """One of 15,840, in an order that looks like none; the common ones come many times."""
    n = n % 60 if n % 10 == 0 else n * 7919
    return (BEGIN[n % 48] + MIDDLE[n // 48 % len(MIDDLE)] + END[n // 480 % len(END)]).capitalize()


def household(n):
    """What there is to know of one: the present holder, the former one, house, well, feeder."""
    pick = Random(n)
    return {
        "name": f"{pick.choice(FIRST)} {surname(n)}",
        "former": f"{pick.choice(FIRST)} {surname(n + 5003)}",
        "phone": f"1{201 + n // 100 % 799}55501{n % 100:02d}",
        "street": f"{100 + pick.randrange(9900)} {pick.choice(STREETS)} {pick.choice(SECOND)} "
        f"{pick.choice(ROADS)}",
        "town": pick.choice(TOWNS),
        "tag": f"LK-{30000 + n}",
        "serial": f"SN-{pick.randrange(1000, 9999)}{n:05d}",
    }


def in_bulk(model, rows):
    """Written past the program, as a transfer from elsewhere would; the rows with numbers."""
    rows, made = iter(rows), []
    while chunk := list(islice(rows, CHUNK)):
        made += model.objects.bulk_create(chunk)
    return made


def settle(numbers):
    """Households with these numbers, and their words; returns their houses."""
    told = [household(n) for n in numbers]
    sites = in_bulk(
        Site,
        (
            Site(
                street=row["street"],
                town=row["town"],
                address_key=street_key(row["street"], row["town"]),
            )
            for row in told
        ),
    )
    holders = in_bulk(
        Customer,
        (
            Customer(name=row["name"], phone=f"+{row['phone']}", phone_digits=row["phone"])
            for row in told
        ),
    )
    sold = [n for n in range(len(told)) if n % 4 == 0]
    former = in_bulk(Customer, (Customer(name=told[n]["former"]) for n in sold))
    end = SINCE + timedelta(days=900)
    in_bulk(
        SiteTenure,
        (
            SiteTenure(site=site, customer=holder, from_on=SINCE if n % 4 else end)
            for n, (site, holder) in enumerate(zip(sites, holders, strict=True))
        ),
    )
    in_bulk(
        SiteTenure,
        (
            SiteTenure(
                site=sites[n], customer=customer, from_on=SINCE, until_on=end, is_contact=False
            )
            for n, customer in zip(sold, former, strict=True)
        ),
    )
    in_bulk(Well, (Well(site=site, tag=row["tag"]) for site, row in zip(sites, told, strict=True)))
    trains = in_bulk(Train, (Train(site=site) for site in sites))
    in_bulk(
        Stage,
        (
            Stage(
                train=train,
                position=1,
                kind=Stage.Kind.FEEDER,
                fitted_on=SINCE,
                serial=row["serial"],
            )
            for train, row in zip(trains, told, strict=True)
        ),
    )
    rebuild()
    return sites
