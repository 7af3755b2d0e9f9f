"""Reads and sends pages: posts carry the token that stands in the form, as a browser's do."""

import html
import re
from dataclasses import dataclass
from typing import Any


@dataclass
class Page:
    """What came back."""

    status: int
    where: str
    text: str
    headers: Any

    @property
    def words(self):
        """The text a person reads: without tags, entities resolved, spaces closed up."""
        body = re.sub(r"<(script|style|head)\b.*?</\1>", " ", self.text, flags=re.DOTALL)
        return " ".join(html.unescape(re.sub(r"<[^>]+>", "\x00", body)).replace("\x00", " ").split())

    def beside(self, name):
        """Return what stands in the block of a field: its label, value and problem."""
        blocks = re.split(r'(?=<div class="field)', self.text)
        return html.unescape(next((block for block in blocks if f'name="{name}"' in block), ""))


class Hand:
    """A client and the makers' shop."""

    def __init__(self, client, shop):
        self.client, self.shop = client, shop

    def packed(self, *weights):
        """Packs of the makers, and what they record next is the day after; return the lot's code and those of its packs."""
        made = self.shop.packed(*weights)
        self.shop.day = "2026-05-22"
        return made

    def get(self, path):
        return self._page(self.client.get(path, follow_redirects=True))

    def post(self, path, /, follow=True, token=None, **fields):
        """Send a form; a name's ``__`` stands for a hyphen, ``from_`` for from."""
        with self.client.session_transaction() as session:
            csrf = session.setdefault("csrf", "a token")
        named = {name.rstrip("_").replace("__", "-"): value for name, value in fields.items()}
        return self._page(
            self.client.post(path, data={"csrf": csrf if token is None else token, **named}, follow_redirects=follow)
        )

    def yes(self, page, path, /, **fields):
        """Send the same form once more with yes to what the page asked."""
        return self.post(path, confirmed="yes", asked=re.search(r'name="asked" value="([0-9a-f]+)"', page.text)[1], **fields)

    def _page(self, answer):
        where = answer.request.full_path.rstrip("?") if answer.request else ""
        return Page(answer.status_code, answer.headers.get("Location", where), answer.get_data(as_text=True), answer.headers)
