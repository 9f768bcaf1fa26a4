"""Forty searches as people say and type them, and the invented houses they mean.

Common practice, no source: the kinds of slip are those of typing while listening.
"""

from datetime import date

from equipment.models import Site, Stage, Train, Well
from jobs.models import Customer, SiteTenure

#: key: (holder, telephone, street, town, tag, serial, former holder or none)
HOUSES = {
    "okonkwo": (
        "Célestine Prudhomme-Okonkwo",
        "+15185550124",
        "4417 Alder Slough Rd.",
        "Kestrel Ford",
        "WT-7204183",
        "FD-88213-K",
        "Ottilie Vandersteen",
    ),
    "brandt": (
        "Marguerite Brandt",
        "+16075550163",
        "88 Hollow Creek Lane",
        "Larkmoor",
        "WT-7204991",
        "FD-60417-A",
        None,
    ),
    "phillips": (
        "Thaddeus Phillips",
        "+13155550117",
        "1206 Mount Sorrow Rd",
        "Brackwater",
        "WT-7311560",
        "FD-71934-C",
        "Rosalind Achterberg",
    ),
    "obrien": (
        "Siobhan O'Brien",
        "+18455550142",
        "15 St. Elmo Court",
        "Upper Saxby",
        "WT-7118042",
        "FD-51177-B",
        None,
    ),
    "delacruz": (
        "Ximena de la Cruz",
        "+15855550109",
        "302 N Tannery Street",
        "Tolland Mills",
        "WT-7092215",
        "FD-42086-D",
        None,
    ),
    "meyer": (
        "Leopold Mayer",
        "+17165550188",
        "2750 County Route 9",
        "Fenn Hollow",
        "WT-7450327",
        "FD-90551-F",
        "Gwendolyn Fairweather",
    ),
    "wright": (
        "Cornelius Wright",
        "+19145550135",
        "641 Blue Kettle Ave",
        "Dunmere",
        "WT-7263308",
        "FD-13390-H",
        None,
    ),
    "school": (
        "Quillby Meadow School",
        "+15185550176",
        "7 Schoolhouse Hill Rd",
        "Oxley Green",
        "WT-7380614",
        "FD-27755-M",
        None,
    ),
    "nguyen": (
        "Bao-Lynn Thackeray",
        "+16315550151",
        "5093 Wintergreen Blvd",
        "Port Calder",
        "WT-7527749",
        "FD-36621-P",
        "Ferdinand Zielinsky",
    ),
    "larsen": (
        "Hjalmar Sørensen-Pike",
        "+15165550128",
        "19 Lower Ferry Ln",
        "Stillwell",
        "WT-7609931",
        "FD-84402-T",
        None,
    ),
}

#: (what is typed, the house it means)
SEARCHES = [
    # letters swapped
    ("okonkow", "okonkwo"),
    ("marguerite brnadt", "brandt"),
    ("Thackrey", "nguyen"),
    ("adler slough", "okonkwo"),
    ("wintregreen", "nguyen"),
    # letters missing, doubled, too many, wrong
    ("prudhome okonkwo", "okonkwo"),
    ("margerite brand", "brandt"),
    ("thadeus philips", "phillips"),
    ("tanery street tolland", "delacruz"),
    ("qilby meadow", "school"),
    ("Achtenberg", "phillips"),
    ("corneliuss wrigth", "wright"),
    # written as it sounds
    ("fillips thaddeus", "phillips"),
    ("leopold meier", "meyer"),
    ("okonquo", "okonkwo"),
    ("shivon obrien elmo", "obrien"),
    ("cornelius right", "wright"),
    ("zelinski ferdinand", "nguyen"),
    # accents, marks and particles
    ("celestine prudhomme", "okonkwo"),
    ("o brien siobhan", "obrien"),
    ("delacruz", "delacruz"),
    ("cruz ximena", "delacruz"),
    ("sorensen pike", "larsen"),
    # telephone numbers
    ("(518) 555-0124", "okonkwo"),
    ("+1 607.555.0163", "brandt"),
    ("315 5550 117", "phillips"),
    ("845-555-0124 siobhan", "obrien"),
    ("16 555 0188", "meyer"),
    ("914 555 0153", "wright"),
    ("thackeray 0151", "nguyen"),
    # who lived there before
    ("vandersten", "okonkwo"),
    ("Gwendoline Fairwether", "meyer"),
    # streets
    ("1206 mt sorrow road", "phillips"),
    ("302 north tannery st", "delacruz"),
    ("county rte 9 2750", "meyer"),
    ("blue ketle avenue", "wright"),
    ("hollowcreek lane larkmor", "brandt"),
    # tags and serial numbers
    ("wt7204183", "okonkwo"),
    ("WT-7240991", "brandt"),
    ("fd 13390", "wright"),
]


def move_in():
    """The houses of the searches, saved one by one as the program does."""
    return {key: _house(*row) for key, row in HOUSES.items()}


def _house(name, phone, street, town, tag, serial, former):
    site = Site.objects.create(street=street, town=town)
    sold = date(2021, 5, 3)
    if former:
        SiteTenure.objects.create(
            site=site,
            customer=Customer.objects.create(name=former),
            from_on=date(2009, 1, 1),
            until_on=sold,
            is_contact=False,
        )
    holder = Customer.objects.create(name=name, phone=phone)
    SiteTenure.objects.create(site=site, customer=holder, from_on=sold)
    Well.objects.create(site=site, tag=tag)
    train = Train.objects.create(site=site)
    Stage.objects.create(
        train=train, position=1, kind=Stage.Kind.FEEDER, fitted_on=sold, serial=serial
    )
    return site
