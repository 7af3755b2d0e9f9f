"""What a person does at the bench, by touch and by a scanner that types and presses Enter."""

import re

import pypdfium2
import zxingcpp


class Bench:
    """A page in the hands of a person."""

    def __init__(self, page, address, clock, shop, has_touch=False):
        self.has_touch = has_touch
        self.page, self.address, self.clock, self.shop = page, address, clock, shop

    def arrive(self, name):
        self.open("/who")
        self.fill("other", name)
        self.press("That is me")

    def open(self, path):
        self.page.goto(self.address + path)

    def scan(self, text):
        """Type into the box on top, as a scanner does."""
        self.page.locator("#scan").fill(text)
        self.page.locator("#scan").press("Enter")
        self.page.wait_for_load_state()

    def fill(self, name, text):
        self.page.locator(f'[name="{name}"]').fill(text)

    def choose(self, name, words):
        self.page.locator(f'[name="{name}"]').select_option(words)

    def press(self, words):
        """Press a button or link; on a phone by touch."""
        target = self.page.locator("button, a, summary").filter(has_text=re.compile(f"^\\s*{re.escape(words)}")).first
        target.click()
        self.page.wait_for_load_state()

    @property
    def told(self):
        return self.page.locator("main").inner_text()

    def sees(self, words):
        """Look for words for as long as a page may take to come."""
        for _ in range(300):
            if words in self.told:
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"{words!r} is not in {self.told!r}")

    def decoded(self, path):
        """Return what an independent reader finds in a PDF of ours: one set of texts a page."""
        answer = self.page.request.get(self.address + path)
        assert answer.headers["content-type"] == "application/pdf", answer.text()
        document = pypdfium2.PdfDocument(answer.body())
        return [{found.text for found in zxingcpp.read_barcodes(page.render(scale=4).to_pil())} for page in document]

    def is_wide(self):
        """Tell whether the page must be moved sideways to be read."""
        return self.page.evaluate("document.documentElement.scrollWidth > innerWidth")
