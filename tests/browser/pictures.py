"""Pictures of the main screens from running demos: python -m tests.browser.pictures [FOLDER]

All screens go into var/pictures; the four that README shows go, small, into fixtures/pictures.
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PIL import Image

from .pages import ROWS
from .product import ROOT, running
from .visitors import DESK, PHONE, Visitor, open_browser

OUT = ROOT / "var" / "pictures"
README = ROOT / "fixtures" / "pictures"
#: most that a picture in README may weigh, in bytes
HEAVIEST = 150_000
COLOURS = 64

#: name: who, address; {…} are rows of the demo
SCREENS = {
    "sign-in": ("", "/sign-in/"),
    "my-day": ("technician", "/my-day/"),
    "record": ("technician", "/records/{records}/"),
    "disinfect": ("technician", "/records/{records}/disinfect/"),
    "dial-back": ("technician", "/records/{records}/dial-back/"),
    "baseline": ("technician", "/records/{records}/baseline/"),
    "close": ("technician", "/records/{records}/close/"),
    "visit-end": ("technician", "/visits/{visits}/close/"),
    "worklist": ("dispatcher", "/worklist/"),
    "search": ("dispatcher", "/find/?q=larchfenn"),
    "site": ("dispatcher", "/sites/{sites}/"),
    "plan": ("dispatcher", "/systems/{systems}/plan/"),
    "book": ("dispatcher", "/promises/{promises}/book/"),
    "day": ("dispatcher", "/day/"),
    "week": ("dispatcher", "/week/"),
    "messages": ("dispatcher", "/messages/"),
    "worksheet": ("dispatcher", "/worksheets/feed-setting/"),
    "callbacks": ("owner", "/callbacks/?since={since}&until={until}&window=30"),
    "rules": ("owner", "/rules/"),
    "people": ("owner", "/people/"),
    "not-found": ("dispatcher", "/nowhere/"),
}
#: the same company on a full day: 12 people, 60 visits
FULL = {
    "worklist-full": ("dispatcher", "/worklist/"),
    "day-full": ("dispatcher", "/day/"),
    "week-full": ("dispatcher", "/week/"),
    "messages-full": ("dispatcher", "/messages/"),
    "my-day-full": ("technician", "/my-day/"),
    "callbacks-full": ("owner", "/callbacks/?since={since}&until={until}&window=30"),
}
LOOKS = {
    "390-light": {"size": PHONE, "scheme": "light"},
    "390-dark": {"size": PHONE, "scheme": "dark"},
    "1280-light": {"size": DESK, "scheme": "light"},
    "1280-dark": {"size": DESK, "scheme": "dark"},
}
#: what README shows: screen, look, how far down it begins
IN_README = {
    "worklist": ("worklist-full", "1280-light", 0),
    "site": ("site", "1280-light", 0),
    "dial-back": ("dial-back", "390-light", 690),
    "callbacks": ("callbacks", "1280-dark", 850),
}


def take_all(product, screens, out):
    known = product.ask(ROWS)
    today = datetime.now(UTC).date()
    words = known["rows"] | {"since": today - timedelta(days=600), "until": today}
    with open_browser() as browser:
        for look, screen in LOOKS.items():
            people = {}
            for name, (role, path) in screens.items():
                who = known["people"].get(role, "")
                if who not in people:
                    visitor = Visitor(browser, product.url, **screen)
                    people[who] = visitor.sign_in(who) if who else visitor
                page = people[who].page
                page.goto(path.format(**words))
                page.screenshot(path=out / f"{name}-{look}.png", full_page=True)
            for visitor in people.values():
                visitor.close()


def shrink_for_readme(out):
    README.mkdir(exist_ok=True)
    for name, (screen, look, top) in IN_README.items():
        picture = Image.open(out / f"{screen}-{look}.png").convert("RGB")
        height = min(picture.height - top, DESK["height"])
        cut = picture.crop((0, top, picture.width, top + height))
        target = README / f"{name}.png"
        cut.quantize(COLOURS).save(target, optimize=True)
        if target.stat().st_size > HEAVIEST:
            sys.exit(f"{target} weighs {target.stat().st_size} bytes: {HEAVIEST} is the most.")


def main():
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else OUT
    out.mkdir(parents=True, exist_ok=True)
    for screens, size in ((SCREENS, "small"), (FULL, "large")):
        with running(DEMO_SIZE=size) as product:
            take_all(product, screens, out)
    shrink_for_readme(out)
    print(
        f"{(len(SCREENS) + len(FULL)) * len(LOOKS)} pictures in {out}, {len(IN_README)} in {README}"
    )


if __name__ == "__main__":
    main()
