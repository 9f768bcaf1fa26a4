"""Pictures of every page of the demo, phone in light and desk in dark: `make pictures`."""

import re
import shutil
import tempfile

from .pages import ROWS, pages
from .product import ROOT, Product
from .test_every_page import SCREENS, Crowd
from .visitors import open_browser

FOLDER = ROOT / "var" / "pictures"


def main():
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as folder:
        product = Product(folder)
        try:
            product.start()
            with open_browser() as browser:
                for screen, options in SCREENS.items():
                    take(Crowd(browser, product.url, **options), screen, pages(product.ask(ROWS)))
        finally:
            product.stop()
    print(f"{len(list(FOLDER.iterdir()))} pictures in {FOLDER.relative_to(ROOT)}")


def take(crowd, screen, found):
    for page in found:
        tab = crowd.open(page)
        if tab:
            name = re.sub(r"[^a-z0-9]+", "-", f"{page} {screen}".lower())
            tab.screenshot(path=FOLDER / f"{name}.png", full_page=True)


if __name__ == "__main__":
    main()
