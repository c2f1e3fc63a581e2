"""Firefox and WebKitGTK, driven by what their makers offer (Marionette, WebDriver); the tests need neither."""

import os
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any, Protocol

from tests.live import free_port

DISPLAY = ":97"


class Missing(Exception):
    """An engine or its driver is not on this machine; the message says which."""


class Engine(Protocol):
    """A browser with one page."""

    name: str

    def open(self, address: str) -> None:
        """Open an address, or load it again."""

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page (a function's body) and return what it returns."""

    def wait(self, script: str, *arguments: Any) -> Any:
        """Run a script whose last argument takes the answer, and return that."""

    def tap(self, selector: str) -> None:
        """Tap the first element that is shown."""

    def close(self) -> None:
        """End the browser."""


def program(*names: str) -> str:
    """Return the path of the first program that is here; Missing when there is none."""
    found = next(filter(None, map(shutil.which, names)), None)
    if found is None:
        raise Missing(f"no {names[0]} here")
    return found


class Firefox:
    """Firefox, headless, by Marionette."""

    def __init__(self) -> None:
        try:
            from marionette_driver.by import By
            from marionette_driver.errors import MarionetteException
            from marionette_driver.marionette import Marionette
        except ImportError:
            raise Missing("no marionette_driver here: pip install marionette_driver 'setuptools<81'") from None
        port, self.profile = free_port(), Path(tempfile.mkdtemp())
        (self.profile / "user.js").write_text(f'user_pref("marionette.port", {port});\n', "ascii")
        self.process = subprocess.Popen(
            [program("firefox-esr", "firefox"), "--headless", "--marionette", "--no-remote", "--profile",
             str(self.profile)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        self._css, self.driver = By.CSS_SELECTOR, Marionette(host="127.0.0.1", port=port, startup_timeout=60)
        for attempt in range(60):
            try:
                self.driver.start_session()
                break
            except (OSError, MarionetteException):
                if attempt == 59:
                    raise
                with suppress(subprocess.TimeoutExpired):
                    self.process.wait(0.5)
        self.driver.timeout.script = 60
        self.name = f"Firefox {self.driver.session_capabilities['browserVersion']}"

    def open(self, address: str) -> None:
        """Open an address, or load it again."""
        self.driver.navigate(address)

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page (a function's body) and return what it returns."""
        return self.driver.execute_script(script, script_args=arguments, sandbox=None)

    def wait(self, script: str, *arguments: Any) -> Any:
        """Run a script whose last argument takes the answer, and return that."""
        return self.driver.execute_async_script(script, script_args=arguments, sandbox=None)

    def tap(self, selector: str) -> None:
        """Tap the first element that is shown."""
        next(e for e in self.driver.find_elements(self._css, selector) if e.is_displayed()).click()

    def close(self) -> None:
        """End the browser."""
        self.process.kill()
        self.process.wait(20)
        shutil.rmtree(self.profile, ignore_errors=True)


class Webkit:
    """WebKitGTK's small browser on a screen of its own, by WebDriver."""

    def __init__(self) -> None:
        try:
            from selenium import webdriver
            from selenium.webdriver.common.by import By
            from selenium.webdriver.webkitgtk.options import Options
            from selenium.webdriver.webkitgtk.service import Service
        except ImportError:
            raise Missing("no selenium here: pip install selenium") from None
        driver = program("WebKitWebDriver")
        self.screen = subprocess.Popen(
            [program("Xvfb"), DISPLAY, "-screen", "0", "1400x1400x24"], stderr=subprocess.DEVNULL
        )
        os.environ["DISPLAY"] = DISPLAY
        options = Options()
        options.set_capability("browserName", "MiniBrowser")
        self._css = By.CSS_SELECTOR
        self.driver = webdriver.WebKitGTK(options=options, service=Service(executable_path=driver))
        self.driver.set_script_timeout(60)
        self.name = f"WebKitGTK {self.driver.capabilities['browserVersion']}"

    def open(self, address: str) -> None:
        """Open an address, or load it again."""
        self.driver.get(address)

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page (a function's body) and return what it returns."""
        return self.driver.execute_script(script, *arguments)

    def wait(self, script: str, *arguments: Any) -> Any:
        """Run a script whose last argument takes the answer, and return that."""
        return self.driver.execute_async_script(script, *arguments)

    def tap(self, selector: str) -> None:
        """Tap the first element that is shown."""
        next(e for e in self.driver.find_elements(self._css, selector) if e.is_displayed()).click()

    def close(self) -> None:
        """End the browser and its screen."""
        with suppress(Exception):
            self.driver.quit()
        self.screen.kill()
        self.screen.wait(20)


ENGINES = {"firefox": Firefox, "webkit": Webkit}
