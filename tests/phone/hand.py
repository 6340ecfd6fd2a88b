"""A hand with a cheap phone: 360 by 640, touch, and an ear for what the page complains of."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Locator

WIDE, HIGH = 360, 640
PATIENCE_MS = 8000
# Every breach of the content security policy is told, also of a payload that did not run.
_LISTEN = """
window.breaches = [];
document.addEventListener('securitypolicyviolation', (e) =>
  window.breaches.push(e.violatedDirective + ' ' + e.blockedURI));
window.alert = (text) => window.breaches.push('alert ' + text);
"""
# What the browser itself says of a request that failed is no fault of the page.
_EXPECTED = ("Failed to load resource", "net::ERR_INTERNET_DISCONNECTED", "ERR_FAILED")


class Hand:
    """One phone: a browser context of its own."""

    def __init__(self, chromium: "Browser", url: str, album: Path, **options: Any) -> None:
        self.url = url
        self.album = album
        self.complaints: list[str] = []
        self.typed = self.taps = 0
        self.context = chromium.new_context(
            viewport={"width": WIDE, "height": HIGH},
            **{"has_touch": True, "is_mobile": True, "locale": "en-GB", **options},
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.context.add_init_script(_LISTEN)
        self.page = self.new_tab()

    def new_tab(self) -> Any:
        """Open a tab that is listened to."""
        page = self.context.new_page()
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        return page

    def _hear(self, message: "ConsoleMessage") -> None:
        if message.type == "error" and not any(e in message.text for e in _EXPECTED):
            self.complaints.append(f"console: {message.text}")

    def open(self, place: str = "/") -> None:
        """Open a place of the page by its address."""
        self.page.goto(f"{self.url}/#{place}")
        self.page.wait_for_load_state("networkidle")

    def sign_in(self, code: str) -> None:
        """Sign in by the link a steward sends."""
        self.page.goto(f"{self.url}/#join={code}")
        self.tap("Sign in on this phone")
        self.see("What is wrong?")

    def tap(self, name: str, role: str = "") -> None:
        """Tap a button or a link by the beginning of its words."""
        self._found(name, role).first.tap() if self._touches else self._found(
            name, role
        ).first.click()
        self.taps += 1

    @property
    def _touches(self) -> bool:
        return bool(self.page.evaluate("navigator.maxTouchPoints > 0"))

    def _found(self, name: str, role: str) -> "Locator":
        roles = [role] if role else ["button", "link", "radio", "checkbox"]
        found = self.page.get_by_role(roles[0], name=name)
        for more in roles[1:]:
            found = found.or_(self.page.get_by_role(more, name=name))
        return found

    def type(self, label: str, text: str) -> None:
        """Type into the field of a label."""
        self.page.get_by_label(label, exact=False).first.fill(text)
        self.typed += len(text)

    def see(self, text: str) -> None:
        """Wait until some words are to be seen."""
        self._seen(text).wait_for()

    def until(self, told: str, given: Any = None) -> None:
        """Wait until an expression is true; the page's policy allows no other way."""
        for _ in range(PATIENCE_MS // 100):
            if self.page.evaluate(told, given):
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"never came true: {told}")

    def press(self, name: str, role: Any = "button") -> None:
        """Press a button or follow a link where no script tells about touch."""
        self.page.get_by_role(role, name=name).first.click()
        self.taps += 1

    def unfold(self, text: str) -> None:
        """Open what lies under a line."""
        self.page.locator("summary", has_text=text).first.click()
        self.taps += 1

    def is_seen(self, text: str) -> bool:
        """Tell whether some words are to be seen now."""
        return bool(self._seen(text).count())

    def _seen(self, text: str) -> "Locator":
        return self.page.get_by_text(text, exact=False).filter(visible=True).first

    def next_step(self) -> str:
        """Return what is to be done next, as it is headed."""
        return str(self.page.locator(".next strong").first.inner_text())

    def breaches(self) -> list[str]:
        """Return what the policy stopped, and any alert that came up."""
        found: list[str] = self.page.evaluate("window.breaches")
        return found

    def picture(self, name: str) -> Path:
        """Keep a picture of the whole page."""
        path = self.album / f"{name}.png"
        self.page.screenshot(path=path, full_page=True)
        return path

    def whole(self) -> None:
        """Make the phone as high as its page, so that nothing stands under anything."""
        high = self.page.evaluate("document.documentElement.scrollHeight")
        self.page.set_viewport_size({"width": WIDE, "height": max(HIGH, int(high))})

    def axe(self) -> list[str]:
        """Return what axe-core finds against WCAG 2.2 AA, a line each."""
        from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - not in the default tier

        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        result = Axe().run(self.page, options={"runOnly": {"type": "tag", "values": tags}})
        return [
            f"{v['id']}: {v['help']}: {node['html'][:120]}"
            for v in result.response["violations"]
            for node in v["nodes"]
        ]

    def close(self) -> None:
        """Put the phone away; what the policy stopped is a complaint."""
        self.context.close()
