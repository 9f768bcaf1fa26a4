"""What is read out on the telephone when it must not be said in passing.

It defers to the laboratory, the health department and local code. Boiling for one minute: EPA,
emergency disinfection of drinking water (SEEN); babies by boiled or bottled water, other uses:
Connecticut Department of Public Health, private wells (SEEN).
"""

FOUND_BACTERIA = (
    "The laboratory found bacteria in the water of your well.",
    "Please do not drink it, and do not use it for teeth, ice, infant formula or cooking.",
    "Use bottled water, or bring water to a rolling boil for one minute, unless you were told that "
    "nitrate is high or that fuel or chemicals got in: then only bottled water.",
    "Washing and bathing are usual for healthy people; babies and open wounds by boiled or bottled "
    "water.",
    "Is there a baby, somebody pregnant, old, ill or on dialysis in the house? They ask their "
    "doctor today.",
    "It stays so until one of us calls you by name and says it is over; do not lift it yourself.",
    "The health department can tell you more, and its word comes before ours.",
    "Would you please say back to me what you will do?",
)
