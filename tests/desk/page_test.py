"""The desk's page in a headless browser.

Protects: what a conservator draws there by mouse is what is saved, reloaded and measured; nothing is
lost by a second page or by a change underneath; and no other page in the browser can do anything.

    page_test.py PROGRAM WRITE_SHEET
"""

import http.server
import json
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import unittest
import urllib.error
import urllib.request

from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.ui import Select, WebDriverWait

PROGRAM, WRITE_SHEET = sys.argv[1:3]
PATIENCE = 240  # seconds: the machine may be busy


def start_browser(profile):
    options = webdriver.ChromeOptions()
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                 "--disable-background-networking", "--disable-component-update", "--disable-sync",
                 "--disable-dev-shm-usage", "--window-size=1280,800", f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.binary_location = shutil.which("chromium")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    return webdriver.Chrome(service=Service(shutil.which("chromedriver")), options=options)


class Desk:
    """The program, serving a treatment."""

    def __init__(self, treatment):
        self.process = subprocess.Popen([PROGRAM, "desk", treatment, "--no-open"], stdout=subprocess.PIPE, text=True)
        self.address = re.search(r"http://\S+", self.process.stdout.readline()).group()
        self.port = int(re.search(r":(\d+)/", self.address).group(1))
        self.token = self.address.rstrip("/").rsplit("/", 1)[1]

    def stop(self):
        """Ctrl-C; the exit code."""
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(timeout=60)
        self.process.stdout.close()
        return code

    def ask(self, path, headers=None, body=None, method=None):
        """The status of a request made outside the browser, and the answer's headers."""
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", body, headers or {}, method=method)
        try:
            with urllib.request.urlopen(request) as answer:
                return answer.status, answer.headers
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers


class PageTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.temporary = tempfile.TemporaryDirectory()
        cls.root = pathlib.Path(cls.temporary.name)
        subprocess.run([WRITE_SHEET, cls.root / "sheet"], check=True)
        cls.as_written = (cls.root / "sheet/treatment.toml").read_text()
        cls.browser = start_browser(cls.root / "profile")

    @classmethod
    def tearDownClass(cls):
        cls.browser.quit()
        cls.temporary.cleanup()

    def setUp(self):
        self.treatment = self.root / "sheet/treatment.toml"
        # A comment of the person's, and only one side: half the time to look at and to assess.
        text = re.sub(r"(?m)^verso = .*\n", "", self.as_written)
        text = re.sub(r"\[\[region\]\](?:\n(?!\[).+)*\n*", lambda m: "" if 'side = "verso"' in m[0] else m[0], text)
        self.treatment.write_text("# by my hand\n" + text)
        self.desk = Desk(self.treatment)
        self.main = self.browser.current_window_handle
        self.open()

    def tearDown(self):
        for window in self.browser.window_handles:
            if window != self.main:
                self.browser.switch_to.window(window)
                self.browser.close()
        self.browser.switch_to.window(self.main)
        self.assertEqual([line["message"] for line in self.browser.get_log("browser")
                          if line["level"] == "SEVERE" and " 409 " not in line["message"] and "422" not in line["message"]
                          and "favicon" not in line["message"] and not getattr(self, "hostile", False)], [])
        self.browser.execute_script("window.onbeforeunload = null")
        self.browser.get("about:blank")
        self.assertEqual(self.desk.stop(), 0)

    # The page, as a person sees it.

    def open(self):
        self.browser.get(self.desk.address)
        self.until(lambda: self.find("#stages button"))
        self.until(lambda: self.find(".leaflet-tile-loaded"))

    def find(self, css):
        return self.browser.find_elements(By.CSS_SELECTOR, css)

    def one(self, css):
        return self.browser.find_element(By.CSS_SELECTOR, css)

    def until(self, what, patience=PATIENCE):
        return WebDriverWait(self.browser, patience, poll_frequency=0.1,
                             ignored_exceptions=[Exception]).until(lambda _: what())

    def text(self, css):
        # In one go: what changes may be redrawn between finding and reading it.
        return self.browser.execute_script("return document.querySelector(arguments[0])?.innerText ?? ''", css)

    def place(self, dx, dy):
        """The scan's pixel under a place of the map, in screen pixels from its middle."""
        ActionChains(self.browser, duration=0).move_to_element_with_offset(self.one("#map"), dx, dy).perform()
        return [int(v) for v in re.findall(r"-?\d+", self.until(lambda: self.text("#place")))]

    def to_screen(self):
        """From a pixel of the scan to screen pixels from the map's middle, read off the page."""
        (x0, y0), (x1, y1) = self.place(-150, -150), self.place(150, 150)
        return lambda x, y: (round(-150 + 300 * (x - x0) / (x1 - x0)), round(-150 + 300 * (y - y0) / (y1 - y0)))

    def drag(self, start, end):
        chain = ActionChains(self.browser, duration=50)
        chain.move_to_element_with_offset(self.one("#map"), *start).click_and_hold()
        chain.move_to_element_with_offset(self.one("#map"), (start[0] + end[0]) // 2, (start[1] + end[1]) // 2)
        chain.move_to_element_with_offset(self.one("#map"), *end).release().perform()

    def choose_tool(self, name):
        self.one(f"[data-tool={name}]").click()

    def draw_rectangle(self, left, top, right, bottom):
        self.choose_tool("rectangle")
        at = self.to_screen()
        self.drag(at(left, top), at(right, bottom))
        self.choose_tool("move")
        self.until(lambda: self.find("path.region.chosen"))

    def name_region(self, name, role):
        field = self.one("#regions input[type=text]")
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(name, Keys.TAB)
        self.browser.execute_script("arguments[0].click()", self.one(f"#regions input[value={role}]"))

    def save(self):
        self.one("#save").click()
        self.until(lambda: "Saved" in self.text("#saved"))

    def regions(self):
        return self.browser.execute_script(
            "return [...document.querySelectorAll('#regions .row .words')].map((row) => row.textContent)")

    def state(self):
        with urllib.request.urlopen(self.desk.address + "state") as answer:
            return json.load(answer)

    def saved_region(self, name):
        return next(r for r in self.state()["drawn"]["regions"] if r["name"] == name)

    def assess(self):
        self.one("#assess").click()
        self.until(lambda: self.find("#assessment progress"), 20)
        self.until(lambda: not self.find("#assessment progress"))
        self.assertFalse(self.one("#notice").is_displayed(), self.text("#notice"))

    # What is protected.

    def test_draw_save_assess_and_see_the_number_change(self):
        known = self.state()["drawn"]["regions"]
        ink = next(r for r in known if r["role"] == "ink")["polygon"]
        paper = next(r for r in known if r["role"] == "paper")["polygon"]
        middle = lambda p: [sum(v[i] for v in p) / len(p) for i in (0, 1)]
        (x, y), (u, v) = middle(paper), middle(ink)
        self.draw_rectangle(x - 25, y - 25, x + 25, y + 25)
        self.name_region("my watch", "watch")
        self.save()
        written = self.treatment.read_text()
        self.assertTrue(written.startswith("# by my hand\n"))
        self.assertIn('id = "my-watch"', written)
        drawn = self.saved_region("my watch")
        self.assertEqual(drawn["role"], "watch")
        for (px, py), (qx, qy) in zip(drawn["polygon"], [[x - 25, y - 25], [x + 25, y - 25], [x + 25, y + 25], [x - 25, y + 25]]):
            self.assertLess(abs(px - qx) + abs(py - qy), 8)

        self.assess()
        first = self.until(lambda: self.text("[data-region=my-watch] td"))
        self.assertRegex(first, r"ΔE00 [\d.]+ \([\d.]+ to [\d.]+\)")
        self.assertTrue((self.root / "sheet/assessment/report.html").exists())

        # A map over the scan.
        choices = Select(self.one("#map-choice"))
        choices.select_by_index(1)
        image = self.until(lambda: self.one(".leaflet-maps-pane img"))
        self.until(lambda: self.browser.execute_script("return arguments[0].complete && arguments[0].naturalWidth > 0", image))
        self.assertTrue(self.one("#legend").is_displayed())
        Select(self.one("#map-choice")).select_by_index(0)

        # Moved by mouse from bare paper onto an ink that fades, it has another number.
        at = self.to_screen()
        self.drag(at(x, y), at(u, v))
        self.one("#tab-regions").click()
        self.until(lambda: "Not saved" in self.text("#saved"))
        self.assess()
        self.until(lambda: self.text("[data-region=my-watch] td") != first)
        moved = middle(self.saved_region("my watch")["polygon"])
        self.assertLess(abs(moved[0] - u) + abs(moved[1] - v), 8)

    def test_rejected_suspects_stay_rejected(self):
        folder = self.root / "sheet/assessment"
        folder.mkdir(exist_ok=True)
        results = folder / "results.json"
        shutil.copy(self.root / "sheet/suspects.json", results)
        before = self.treatment.read_text()
        try:
            self.open()
            self.one("#tab-assessment").click()
            card = lambda name: f"#assessment > [data-suspect={name}]"
            self.until(lambda: self.find(card("suspect-2")))
            self.find(f"{card('suspect-1')} button")[2].click()
            self.until(lambda: not self.find(card("suspect-1")))
            self.assertEqual(self.treatment.read_text(), before)
            # Another assessment gives it another number and a border that is a little off.
            found = json.loads(results.read_text())
            first, second = found["suspects"]
            first["id"], second["id"] = second["id"], first["id"]
            first["outline_px"] = [[x + 5, y] for x, y in first["outline_px"]]
            results.write_text(json.dumps(found))
            self.open()
            self.one("#tab-assessment").click()
            self.until(lambda: self.find(card("suspect-1")))
            self.assertFalse(self.find(card("suspect-2")))
            self.one("#assessment details summary").click()
            self.find("#assessment details [data-suspect=suspect-2] button")[1].click()  # offered again
            self.until(lambda: self.find(card("suspect-2")))
            # Accepted, it is a region, and no suspect any more until that is undone.
            self.find(f"{card('suspect-2')} button")[1].click()
            self.until(lambda: not self.find(card("suspect-2")))
            self.assertIn("found: suspect-2", self.regions())
            self.one("#undo").click()
            self.until(lambda: self.find(card("suspect-2")))
        finally:
            shutil.rmtree(folder)

    def test_undo_redo_and_reload(self):
        before = self.regions()
        self.draw_rectangle(300, 300, 360, 360)
        self.assertEqual(len(self.regions()), len(before) + 1)
        self.one("#undo").click()
        self.assertEqual(self.regions(), before)
        self.one("#redo").click()
        self.assertEqual(len(self.regions()), len(before) + 1)
        ActionChains(self.browser).key_down(Keys.CONTROL).send_keys("z").key_up(Keys.CONTROL).perform()
        self.assertEqual(self.regions(), before)
        self.assertIn("Saved", self.text("#saved"))
        self.one("#redo").click()
        self.until(lambda: "Not saved" in self.text("#saved"))
        self.one("#regions .row:last-child").click()
        self.name_region("kept", "paper")
        self.save()
        names = self.regions()
        self.open()
        self.assertEqual(self.regions(), names)
        self.assertIn("kept", names)

    def test_every_way_to_draw(self):
        at = self.to_screen()
        count = len(self.regions())
        shown = lambda n: self.until(lambda: len(self.regions()) == count + n)
        self.choose_tool("polygon")
        chain = ActionChains(self.browser, duration=50)
        for corner in ((300, 300), (400, 300), (400, 380), (320, 420)):
            chain.move_to_element_with_offset(self.one("#map"), *at(*corner)).click()
        chain.send_keys(Keys.ENTER).perform()
        shown(1)
        self.choose_tool("line")
        chain = ActionChains(self.browser, duration=50)
        for corner in ((300, 450), (400, 450), (420, 520)):
            chain.move_to_element_with_offset(self.one("#map"), *at(*corner)).click()
        chain.perform()
        self.one("#finish").click()
        shown(2)
        self.choose_tool("freehand")
        chain = ActionChains(self.browser, duration=20)
        chain.move_to_element_with_offset(self.one("#map"), *at(500, 300)).click_and_hold()
        for corner in ((560, 300), (600, 340), (560, 390), (500, 380), (490, 310)):
            chain.move_to_element_with_offset(self.one("#map"), *at(*corner))
        chain.release().perform()
        shown(3)
        # By keyboard alone: corners at the cross, the scan moved beneath it.
        self.choose_tool("polygon")
        self.browser.execute_script("document.getElementById('map').focus()")
        keys = [" ", Keys.ARROW_RIGHT, " ", Keys.ARROW_DOWN, " ", Keys.ENTER]
        ActionChains(self.browser).send_keys(*keys).perform()
        shown(4)
        # From a colour, once the scans have been looked at.
        self.one("#tab-findings").click()
        self.until(lambda: "left-out error" in self.text("#findings"))
        self.one("#tab-regions").click()
        self.one("#whole").click()
        self.choose_tool("grow")
        ink = next(r for r in self.state()["drawn"]["regions"] if r["role"] == "ink")["polygon"]
        time.sleep(0.5)
        at = self.to_screen()
        target = at(sum(p[0] for p in ink) / len(ink), sum(p[1] for p in ink) / len(ink))
        ActionChains(self.browser, duration=50).move_to_element_with_offset(self.one("#map"), *target).pause(0.3).click().perform()
        shown(5)
        self.assertRegex(self.text("#colour"), r"L\* [\d.]+ .*±")
        self.save()
        self.assertEqual(len(self.state()["drawn"]["regions"]), count + 5)

    def test_what_was_found_is_corrected(self):
        self.one("#tab-findings").click()
        self.until(lambda: "mm." in self.text("#findings"))
        frames = self.find("path.found")
        self.assertEqual(len(frames), 2)  # target and sheet
        self.find("#findings .card button")[1].click()  # the sheet's corners, by hand
        self.until(lambda: self.find(".handle.frame.outline"))
        handle = self.find(".handle.frame.outline")[0]
        self.browser.execute_script("arguments[0].focus()", handle)
        ActionChains(self.browser).send_keys(Keys.ARROW_RIGHT).perform()
        self.save()
        self.assertRegex(self.treatment.read_text(), r"outline\.recto = \[\[")
        # Stages on each other, and a pair of places set on both.
        self.find("#stages button")[1].click()
        self.until(lambda: "Off by" in self.text("#findings"))
        self.assertTrue(self.one("#blink").is_displayed())
        self.one("#blink").click()
        self.assertEqual(self.one("#blink").get_attribute("aria-pressed"), "true")
        self.one("#blink").click()
        self.until(lambda: self.find("#findings .card:nth-of-type(3) .acts button"))[-1].click()
        for stage in (0, 1):
            self.until(lambda: self.find("#stages button")[stage].get_attribute("aria-pressed") == "true" and self.one("#hint").is_displayed())
            time.sleep(0.3)
            ActionChains(self.browser, duration=50).move_to_element_with_offset(self.one("#map"), 20, 20).click().perform()
        self.until(lambda: "set by hand: 1" in self.text("#findings"))
        self.save()
        self.assertRegex(self.treatment.read_text(), r"control_points\.recto = \[\[\[")

    def test_two_pages(self):
        self.browser.switch_to.new_window("tab")
        self.open()
        self.draw_rectangle(300, 300, 360, 360)
        self.name_region("of the second", "paper")
        self.save()
        self.browser.switch_to.window(self.main)
        self.draw_rectangle(500, 300, 560, 360)
        self.name_region("of the first", "paper")
        self.one("#save").click()
        self.until(lambda: "changed elsewhere" in self.text("#notice"))
        self.assertNotIn("of the first", self.treatment.read_text())
        self.assertIn("of the second", self.treatment.read_text())
        self.find("#notice button")[0].click()  # read it again
        self.until(lambda: "of the second" in self.regions())
        # The other way: one's own put over it, with what was there kept in a copy.
        text = self.treatment.read_text() + "# from an editor\n"
        self.treatment.write_text(text)
        self.until(lambda: self.one("#notice").is_displayed())  # noticed without saving
        self.find("#notice button")[1].click()
        self.until(lambda: not self.one("#notice").is_displayed())
        self.assertIn("# from an editor", self.treatment.read_text())
        backups = list((self.root / "sheet/treatment-backups").glob("*.toml"))
        self.assertGreaterEqual(len(backups), 1)

    def test_only_its_own_page_is_answered(self):
        own = f"http://127.0.0.1:{self.desk.port}"
        state = f"/{self.desk.token}/state"
        status, headers = self.desk.ask(f"/{self.desk.token}/")
        self.assertEqual(status, 200)
        for name, value in {"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer"}.items():
            self.assertEqual(headers[name], value)
        policy = headers["Content-Security-Policy"]
        for part in ("default-src 'none'", "script-src 'self'", "frame-ancestors 'none'"):
            self.assertIn(part, policy)
        self.assertNotIn("unsafe", policy)
        wrong = self.desk.token[:-1] + ("0" if self.desk.token[-1] != "0" else "1")
        for path in ("/", "/state", f"/{wrong}/", f"/{wrong}/state", "/../etc/passwd", f"/{self.desk.token}/file/../../x"):
            self.assertEqual(self.desk.ask(path)[0], 404, path)
        self.assertIn(self.desk.ask(f"/{self.desk.token}/file/%2e%2e%2fmain.cpp")[0], (400, 404))
        self.assertEqual(self.desk.ask(state, {"Host": "evil.example"})[0], 421)
        self.assertEqual(self.desk.ask(state, {"Origin": "http://evil.example"})[0], 403)
        self.assertEqual(self.desk.ask(state, {"Sec-Fetch-Site": "cross-site"})[0], 403)
        body = json.dumps({"base": "", "over": True, "drawn": {"regions": [], "corners": {}, "outlines": {}, "control_points": {}}}).encode()
        save = f"/{self.desk.token}/save"
        as_json = {"Content-Type": "application/json"}
        self.assertEqual(self.desk.ask(save, as_json, body)[0], 403)
        self.assertEqual(self.desk.ask(save, {"Origin": own, "Content-Type": "text/plain"}, body)[0], 415)
        self.assertEqual(self.desk.ask(save, {**as_json, "Origin": own}, b"{")[0], 400)
        try:
            self.assertEqual(self.desk.ask(save, {**as_json, "Origin": own}, b" " * (5 << 20))[0], 413)
        except urllib.error.URLError:
            pass  # closed before all was sent
        self.assertIn("[[region]]", self.treatment.read_text())
        # Only this machine: nothing listens on its other addresses.
        listening = subprocess.run(["cat", "/proc/net/tcp", "/proc/net/tcp6"], capture_output=True, text=True, check=True).stdout
        ours = [line.split()[1] for line in listening.splitlines() if f":{self.desk.port:04X} " in line and " 0A " in line]
        self.assertEqual(ours, [f"0100007F:{self.desk.port:04X}"])

    def test_another_site_in_the_same_browser_can_do_nothing(self):
        """Even one that knows the token."""
        self.hostile = True
        before = self.treatment.read_text()
        address = self.desk.address
        page = f"""<!doctype html><body><form id=f method=post enctype="text/plain" target=t action="{address}save">
          <input name='{{"over":true,"base":"","drawn":{{"regions":[],"corners":{{}},"outlines":{{}},"control_points":{{}}}},"x":"' value='"}}'></form>
          <iframe name=t></iframe><iframe id=i src="{address}"></iframe><img id=g src="{address}tile/0/0/recto/3/0/0"><script>
          window.done = (async () => {{
            const tried = {{}};
            const attempt = async (name, options) => {{
              try {{ tried[name] = (await fetch("{address}" + (options.method ? "save" : "state"), options)).type; }}
              catch (error) {{ tried[name] = "refused"; }}
            }};
            const body = '{{"over":true,"base":"","drawn":{{"regions":[],"corners":{{}},"outlines":{{}},"control_points":{{}}}}}}';
            await attempt("read", {{}});
            await attempt("write", {{method: "POST", body, headers: {{"Content-Type": "application/json"}}}});
            await attempt("blind", {{method: "POST", body, mode: "no-cors"}});
            document.getElementById("f").submit();
            await new Promise((resolve) => setTimeout(resolve, 1500));
            tried.picture = document.getElementById("g").naturalWidth;
            tried.frames = window.frames.length;
            try {{ tried.inside = document.getElementById("i").contentDocument.title; }} catch (error) {{ tried.inside = "refused"; }}
            return tried;
          }})();
          </script>""".encode()

        class Site(http.server.BaseHTTPRequestHandler):
            def do_GET(self):
                self.send_response(200)
                self.send_header("Content-Type", "text/html")
                self.end_headers()
                self.wfile.write(page)

            def log_message(self, *_):
                pass

        site = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Site)
        threading.Thread(target=site.serve_forever, daemon=True).start()
        try:
            self.browser.switch_to.new_window("tab")
            self.browser.get(f"http://127.0.0.1:{site.server_port}/")
            self.browser.set_script_timeout(60)
            tried = self.browser.execute_async_script("const tell = arguments[0]; window.done.then(tell);")
        finally:
            site.shutdown()
            site.server_close()
        self.assertEqual(tried["read"], "refused")
        self.assertEqual(tried["write"], "refused")
        self.assertEqual(tried["picture"], 0)
        self.assertIn(tried["inside"], ("refused", None, ""))
        self.assertEqual(self.treatment.read_text(), before)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[3:], verbosity=2)
