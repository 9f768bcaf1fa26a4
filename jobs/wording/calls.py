"""What is read out on the telephone when it must not be said in passing.

It defers to the laboratory, the health department and local code. Boiling for one minute: EPA,
emergency disinfection of drinking water (SEEN); babies by boiled or bottled water, other uses:
Connecticut Department of Public Health, private wells (SEEN). Coliform bacteria as a sign that
something may get in, E. coli as a sign of fecal matter: EPA, private wells (MEMORY).
"""

_NOT_FOR = "Please do not drink it, and do not use it for teeth, ice, infant formula or cooking."
_BOIL = (
    "Use bottled water, or bring water to a rolling boil for one minute, unless you were told that "
    "nitrate is high or that fuel or chemicals got in: then only bottled water."
)
_WASHING = (
    "Washing and bathing are usual for healthy people; babies and open wounds by boiled or bottled "
    "water."
)
_UNTIL = (
    "It stays so until one of us calls you by name and says it is over; do not lift it yourself."
)
_DEPARTMENT = "The health department can tell you more, and its word comes before ours."
SAY_BACK = "Would you please say back to me what you will do?"

FOUND_COLIFORM = (
    "The laboratory found coliform bacteria in the water of your well, and no E. coli. They show "
    "that surface water or soil may get in; many of them do no harm by themselves.",
    _NOT_FOR,
    _BOIL,
    _WASHING,
    "Is there a baby, somebody pregnant, old, ill or on dialysis in the house? They ask their "
    "doctor today.",
    "We look for the way in, disinfect, and take new samples after some days of usual use.",
    _UNTIL,
    _DEPARTMENT,
    SAY_BACK,
)
FOUND_ECOLI = (
    "The laboratory found E. coli in the water of your well: it has met sewage or manure, and it "
    "can make you ill. Please stop drinking it now, while we speak.",
    _NOT_FOR,
    _BOIL,
    "Throw away ice and drinks made with it since the last good test. Wash dishes with boiled "
    "water.",
    _WASHING,
    "Has anybody had diarrhoea, cramps, vomiting or fever? They see a doctor today and say that "
    "the water had E. coli. A baby, somebody pregnant, old, ill or on dialysis calls one in any "
    "case.",
    "Do your animals drink it? Ask the vet; a dairy or a kitchen that sells food stops and asks "
    "the health department first.",
    "We ask the health department before we disinfect. It takes two weeks or more: new samples "
    "only a week after the chlorine, and again a week later.",
    _UNTIL,
    _DEPARTMENT,
    SAY_BACK,
)
#: by what the laboratory found
READ_OUT: dict[str, tuple[str, ...]] = {"positive": FOUND_COLIFORM, "ecoli": FOUND_ECOLI}
