#!/usr/bin/python3
"""Protects: the page works in a browser as a person uses it, with mouse, with keyboard, on a small
screen and without script. Headless Chromium, driven by selenium (Debian packages).

    page_test.py PROGRAM    PROGRAM writes the report of made-up results into the folder it is given
"""
import pathlib
import subprocess
import sys
import tempfile
import time
import unittest

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

PROGRAM = sys.argv.pop(1)


def browser(folder):
    options = webdriver.ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic",
                     "--no-first-run", "--disable-background-networking",
                     "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
                     "--hide-scrollbars", f"--user-data-dir={folder}/profile", "--window-size=1280,1000"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    return webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)


class Page(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.temporary = tempfile.TemporaryDirectory()
        cls.folder = cls.temporary.name
        subprocess.run([PROGRAM, cls.folder], check=True)
        cls.address = (pathlib.Path(cls.folder) / "report.html").as_uri()
        cls.driver = browser(cls.folder)
        cls.driver.set_script_timeout(60)

    @classmethod
    def tearDownClass(cls):
        cls.driver.quit()
        cls.temporary.cleanup()

    def setUp(self):
        self.driver.get(self.address)
        WebDriverWait(self.driver, 60).until(
            lambda d: len(d.find_elements(By.CSS_SELECTOR, ".viewer[data-ready=yes]")) == 2)
        self.viewer = self.driver.find_element(By.CSS_SELECTOR, ".viewer")

    def part(self, selector):
        return self.viewer.find_element(By.CSS_SELECTOR, selector)

    def at(self, x, y):
        """Points at a place of the picture, in shares of its width and height."""
        layers = self.part(".layers")
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'start'})", layers)
        box = self.driver.execute_script(
            "const b = arguments[0].getBoundingClientRect(); return [b.left, b.top, b.width, b.height]",
            layers)
        self.driver.execute_script(
            """const e = new PointerEvent('pointermove', {clientX: arguments[1], clientY: arguments[2],
               bubbles: true}); arguments[0].dispatchEvent(e)""",
            layers, box[0] + x * box[2], box[1] + y * box[3])

    def test_nothing_goes_wrong_and_nothing_is_fetched(self):
        severe = [entry for entry in self.driver.get_log("browser") if entry["level"] == "SEVERE"]
        self.assertEqual(severe, [])
        fetched = self.driver.execute_script(
            "return performance.getEntriesByType('resource').map(e => e.name)"
            ".filter(n => !n.startsWith('data:') && !n.startsWith('blob:'))")
        self.assertEqual(fetched, [])

    def test_divider_by_keyboard(self):
        divider = self.part(".divider")
        after = self.part("img.after")
        self.assertIn("50%", after.value_of_css_property("clip-path"))
        divider.send_keys(Keys.ARROW_RIGHT * 10)
        self.assertIn("60%", after.value_of_css_property("clip-path"))
        divider.send_keys(Keys.HOME)
        self.assertNotIn("60%", after.value_of_css_property("clip-path"))

    def test_blink_starts_and_stops(self):
        button = self.part(".controls button")
        after = self.part("img.after")
        button.click()
        self.assertEqual(button.get_attribute("aria-pressed"), "true")
        seen = set()
        end = time.time() + 6
        while time.time() < end and len(seen) < 2:
            seen.add(after.value_of_css_property("clip-path"))
            time.sleep(0.1)
        self.assertEqual(len(seen), 2)
        button.click()
        self.assertEqual(button.get_attribute("aria-pressed"), "false")
        self.assertIn("50%", after.value_of_css_property("clip-path"))

    def test_map_on_top(self):
        overlay = self.part("img.overlay")
        self.assertFalse(overlay.is_displayed())
        choice = Select(self.part("select"))
        self.assertEqual(len(choice.options), 1 + 4)  # none, and the maps of the recto
        choice.select_by_index(1)
        self.assertTrue(overlay.is_displayed())
        self.assertGreater(self.driver.execute_script("return arguments[0].naturalWidth", overlay), 100)
        self.assertTrue(self.part("img.legend").is_displayed())
        opacity = self.part("label:nth-of-type(2) input")
        opacity.send_keys(Keys.HOME)
        self.assertEqual(overlay.value_of_css_property("opacity"), "0")
        choice.select_by_index(0)
        self.assertFalse(overlay.is_displayed())

    def test_colour_of_the_place_pointed_at(self):
        self.at(0.5, 0.5)
        text = self.part(".readout").text
        for words in ("L* 46.2   a* 52.1   b* \u221228.4", "L* 49.8   a* 46.0   b* 25.1", "4.1",
                      "3.7 to 4.4"):
            self.assertIn(words, text)
        self.at(0.01, 0.01)
        self.assertIn("Nothing was measured here.", self.part(".readout").text)

    def test_places_by_keyboard(self):
        layers = self.part(".layers")
        self.driver.execute_script("arguments[0].focus()", layers)
        places = []
        for key in (Keys.ARROW_RIGHT, Keys.ARROW_RIGHT, Keys.ARROW_DOWN):
            self.driver.switch_to.active_element.send_keys(key)
            places.append(self.part(".readout dd").text)
        self.assertEqual(len(set(places)), 3)
        left = [float(place.split(" mm")[0]) for place in places]
        self.assertAlmostEqual(left[1] - left[0], 0.5, places=6)  # a cell of the read-out
        self.assertEqual(left[2], left[1])

    def test_every_control_is_reached_by_tab(self):
        self.driver.execute_script("arguments[0].focus()", self.part(".divider"))
        reached = set()
        for _ in range(30):
            active = self.driver.switch_to.active_element
            reached.add(active.tag_name + "." + (active.get_attribute("type") or ""))
            active.send_keys(Keys.TAB)
        for control in ("input.range", "div.", "a.", "button.button", "select.select-one",
                        "input.checkbox"):
            self.assertIn(control, reached)

    def test_outlines_lead_to_their_rows(self):
        links = self.viewer.find_elements(By.CSS_SELECTOR, ".outlines a")
        self.assertEqual(len(links), 8)  # the places of the recto
        for link in links:
            target = link.get_attribute("href")
            target = target if isinstance(target, str) else target["baseVal"]
            self.assertTrue(self.driver.find_elements(By.ID, target.split("#")[1]))
        self.driver.execute_script("arguments[0].focus()", links[0])
        self.driver.switch_to.active_element.send_keys(Keys.ENTER)
        self.assertTrue(self.driver.current_url.endswith("#place-petals-left"))
        top = self.driver.execute_script(
            "return document.getElementById('place-petals-left').getBoundingClientRect().top")
        self.assertLess(abs(top), 200)

    def test_outlines_can_be_put_away(self):
        self.part("input[type=checkbox]").click()
        self.assertFalse(self.part(".outlines").is_displayed())

    def test_a_small_screen_scrolls_down_only(self):
        cdp = self.driver.execute_cdp_cmd
        cdp("Emulation.setDeviceMetricsOverride", {
            "width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True})
        try:
            self.driver.get(self.address)
            wide = self.driver.execute_script("return document.documentElement.scrollWidth")
            self.assertEqual(self.driver.execute_script("return innerWidth"), 390)
            self.assertLessEqual(wide, 390)
        finally:
            cdp("Emulation.clearDeviceMetricsOverride", {})

    def test_without_script_all_is_there_but_the_viewers(self):
        cdp = self.driver.execute_cdp_cmd
        cdp("Emulation.setScriptExecutionDisabled", {"value": True})
        try:
            self.driver.get(self.address)
            self.assertFalse(self.driver.find_element(By.CSS_SELECTOR, ".viewer").is_displayed())
            self.assertEqual(len(self.driver.find_elements(By.CSS_SELECTOR, ".front .picture img")), 4)
            self.assertTrue(self.driver.find_element(By.ID, "place-petals-left").is_displayed())
        finally:
            cdp("Emulation.setScriptExecutionDisabled", {"value": False})


if __name__ == "__main__":
    unittest.main(verbosity=2)
