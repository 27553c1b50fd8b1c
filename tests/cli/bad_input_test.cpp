// Protects: bad input ends in one clear sentence and the right exit code, writes nothing, and
// leaves the scans as they were.
#include <algorithm>
#include <fstream>
#include <iterator>
#include <map>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <unistd.h>

#include "simulate/simulate.hpp"
#include "tests/cli/program.hpp"
#include "tests/scan/images.hpp"

namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using namespace inkwane::test;

namespace {

std::string contents(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void write(const fs::path& file, const std::string& text) {
  std::ofstream(file, std::ios::binary) << text;
}

/// One simulated treatment, small and coarse, made once.
struct Sheet {
  Sheet() {
    auto scene = inkwane::simulate::solids_scene(1);
    scene.scanner.dpi = 150;
    truth = inkwane::simulate::write_scene(scene, folder.path());
    toml = contents(folder / "treatment.toml");
    for (const auto& entry : fs::directory_iterator(folder / "scans")) {
      scans[entry.path()] = contents(entry.path());
    }
  }
  TemporaryFolder folder;
  inkwane::simulate::Truth truth;
  std::string toml;
  std::map<fs::path, std::string> scans;
};

const Sheet& sheet() {
  static const Sheet made;
  return made;
}

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  const auto at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), with);
}

/// The treatment file with its BT recto scan replaced.
std::string with_scan(const fs::path& scan) {
  return replaced(sheet().toml, "\"scans/bt-recto.tif\"", "\"" + scan.string() + "\"");
}

/// Runs assess on a treatment file of this text and checks what every refusal keeps.
Outcome refused(const std::string& toml, int code) {
  const TemporaryFolder out;
  const fs::path file = sheet().folder / "case.toml";
  write(file, toml);
  const Outcome outcome = run_inkwane({"assess", file.string(), "-o", (out / "result").string()});
  fs::remove(file);
  INFO(outcome.err);
  CHECK(outcome.code == code);
  CHECK(outcome.out.empty());
  // One sentence on one line.
  CHECK_THAT(outcome.err, Catch::Matchers::StartsWith("inkwane: "));
  CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
  CHECK(fs::is_empty(out.path()));
  for (const auto& [scan, bytes] : sheet().scans) CHECK(contents(scan) == bytes);
  return outcome;
}

cv::Mat bt_recto() {
  return cv::imread((sheet().folder / "scans" / "bt-recto.tif").string(), cv::IMREAD_UNCHANGED);
}

cv::Rect target_box() {
  std::vector<cv::Point2f> corners;
  for (const auto& corner : sheet().truth.target_corners.at("BT.recto"))
    corners.emplace_back(corner);
  return cv::boundingRect(corners);
}

/// A TIFF of this picture at 150 dpi, in a folder that lives as long as the test.
fs::path picture(const TemporaryFolder& folder, const std::string& name, const cv::Mat& image) {
  const fs::path file = folder / name;
  cv::imwrite(
      file.string(), image,
      {cv::IMWRITE_TIFF_RESUNIT, 2, cv::IMWRITE_TIFF_XDPI, 150, cv::IMWRITE_TIFF_YDPI, 150});
  return file;
}

}  // namespace

TEST_CASE("the sheet itself is accepted") {
  const TemporaryFolder out;
  const Outcome outcome = run_inkwane(
      {"assess", (sheet().folder / "treatment.toml").string(), "-o", (out / "result").string()});
  INFO(outcome.err);
  CHECK(outcome.code <= 1);
  CHECK(fs::exists(out / "result" / "results.json"));
  for (const auto& [scan, bytes] : sheet().scans) CHECK(contents(scan) == bytes);
}

TEST_CASE("scans that are not fit are refused by name") {
  const TemporaryFolder folder;
  SECTION("missing") {
    CHECK_THAT(refused(with_scan("nowhere.tif"), 3).err, Contains("nowhere.tif"));
  }
  SECTION("not an image") {
    write(folder / "letter.tif", "Dear client, here are the scans.");
    CHECK_THAT(refused(with_scan(folder / "letter.tif"), 3).err, Contains("letter.tif"));
  }
  SECTION("empty") {
    write(folder / "empty.tif", "");
    CHECK_THAT(refused(with_scan(folder / "empty.tif"), 3).err, Contains("empty.tif"));
  }
  SECTION("cut off") {
    const std::string whole = sheet().scans.at(sheet().folder / "scans" / "bt-recto.tif");
    // The directory may stand at either end of a TIFF: a cut in its strips must be met as well.
    write(folder / "half.tif", whole.substr(0, whole.size() / 2));
    CHECK_THAT(refused(with_scan(folder / "half.tif"), 3).err, Contains("half.tif"));
    std::vector<unsigned char> png;
    cv::imencode(".png", bt_recto(), png);
    write(folder / "half.png",
          {png.begin(), png.begin() + static_cast<std::ptrdiff_t>(png.size() / 2)});
    CHECK_THAT(refused(with_scan(folder / "half.png"), 3).err, Contains("half.png"));
    std::vector<unsigned char> jpeg;
    cv::Mat eight;
    bt_recto().convertTo(eight, CV_8U, 1 / 257.0);
    cv::imencode(".jpg", eight, jpeg);
    write(folder / "half.jpg",
          {jpeg.begin(), jpeg.begin() + static_cast<std::ptrdiff_t>(jpeg.size() / 2)});
    CHECK_THAT(refused(with_scan(folder / "half.jpg"), 3).err, Contains("half.jpg"));
  }
  SECTION("CMYK, as TIFF and as JPEG") {
    Tiff how;
    how.photometric = PHOTOMETRIC_SEPARATED, how.samples = 4, how.depth = 8;
    write_tiff(folder / "cmyk.tif", pattern(64, 64, 8), how);
    CHECK_THAT(refused(with_scan(folder / "cmyk.tif"), 3).err,
               Contains("cmyk.tif") && Contains("CMYK"));
    Jpeg jpeg;
    jpeg.components = 4;
    write_jpeg(folder / "cmyk.jpg", pattern(64, 64, 8), jpeg);
    CHECK_THAT(refused(with_scan(folder / "cmyk.jpg"), 3).err,
               Contains("cmyk.jpg") && Contains("CMYK"));
  }
  SECTION("of no size, and of an absurd one") {
    // PNG holds its size at bytes 16 to 23, big-endian (ISO/IEC 15948); the checksum is left wrong
    // on purpose: a size is refused before anything else is believed, or as a damaged header.
    const auto sized = [&](const std::string& name, std::uint32_t side) {
      write_png(folder / name, pattern(64, 64, 16), {});
      auto bytes = read_bytes(folder / name);
      for (std::size_t i = 0; i < 8; ++i)
        bytes[16 + i] = static_cast<std::uint8_t>(side >> (24 - 8 * (i % 4)));
      write_bytes(folder / name, bytes);
      return refused(with_scan(folder / name), 3).err;
    };
    CHECK_THAT(sized("nothing.png", 0), Contains("nothing.png"));
    CHECK_THAT(sized("vast.png", 0x7FFFFFFF), Contains("vast.png"));
    Tiff how;
    how.directory_first = true;
    write_tiff(folder / "vast.tif", pattern(64, 64, 16), how);
    auto bytes = read_bytes(folder / "vast.tif");
    // ImageWidth and ImageLength are tags 256 and 257 (TIFF 6.0), little-endian here, with the
    // value eight bytes on.
    for (std::size_t i = 8; i + 12 < bytes.size(); i += 2) {
      if ((bytes[i] == 0 || bytes[i] == 1) && bytes[i + 1] == 1 && bytes[i + 4] == 1 &&
          bytes[i + 8] == 64 && bytes[i + 9] == 0) {
        bytes[i + 2] = 4, bytes[i + 10] = 1;  // LONG, 65,536 + 64
      }
    }
    write_bytes(folder / "vast.tif", bytes);
    CHECK_THAT(refused(with_scan(folder / "vast.tif"), 3).err,
               Contains("vast.tif") && Contains("65600"));
  }
  SECTION("grey") {
    cv::Mat grey;
    cv::cvtColor(bt_recto(), grey, cv::COLOR_BGR2GRAY);
    CHECK_THAT(refused(with_scan(picture(folder, "grey.tif", grey)), 3).err, Contains("grey.tif"));
  }
}

TEST_CASE("a target that is asked for must be there, whole, and the reference's") {
  const TemporaryFolder folder;
  SECTION("none") {
    cv::Mat image = bt_recto();
    cv::Rect box = target_box();
    box = cv::Rect(box.x - 30, box.y - 30, box.width + 60, box.height + 60) &
          cv::Rect({}, image.size());
    image(box).setTo(image.at<cv::Vec3w>(2, 2));
    const Outcome outcome = refused(with_scan(picture(folder, "bare.tif", image)), 3);
    CHECK_THAT(outcome.err, Contains("bare.tif") && Contains("corners"));
  }
  SECTION("half covered") {
    cv::Mat image = bt_recto();
    cv::Rect box = target_box();
    box.width /= 2;
    image(box).setTo(cv::Scalar(12000, 26000, 15000));
    CHECK_THAT(refused(with_scan(picture(folder, "covered.tif", image)), 3).err,
               Contains("covered.tif"));
  }
  SECTION("no reference file") {
    CHECK_THAT(refused(replaced(sheet().toml, "target.txt", "lost.txt"), 3).err,
               Contains("lost.txt"));
  }
  SECTION("a reference that is something else") {
    write(folder / "reference.txt", "CGATS.17\nnothing here\n");
    CHECK_THAT(
        refused(replaced(sheet().toml, "target.txt", (folder / "reference.txt").string()), 3).err,
        Contains("reference.txt"));
  }
}

TEST_CASE("a later scan must be of the same side, the same way up") {
  const TemporaryFolder folder;
  const auto at_recto = [](const fs::path& scan) {
    return replaced(sheet().toml, "\"scans/at-recto.tif\"", "\"" + scan.string() + "\"");
  };
  SECTION("another object") {
    CHECK_THAT(refused(at_recto("scans/bt-verso.tif"), 3).err, Contains("bt-verso.tif"));
  }
  SECTION("mirrored") {
    // The target is mirrored with the rest, and says so first.
    cv::Mat mirrored;
    cv::flip(bt_recto(), mirrored, 1);
    CHECK_THAT(refused(at_recto(picture(folder, "mirrored.tif", mirrored)), 3).err,
               Contains("mirrored.tif") && Contains("mirror"));
  }
  SECTION("plain blocks that lie alike in the mirror, told by their colours") {
    const fs::path before = sheet().folder / "scans/bt-recto.tif";
    const auto compared = [&](const fs::path& after) {
      const TemporaryFolder out;
      const Outcome outcome = run_inkwane(
          {"compare", before.string(), after.string(), "-o", (out / "result").string()});
      CHECK(fs::is_empty(out.path()) == (outcome.code == 3));
      return outcome;
    };
    cv::Mat changed;
    cv::flip(bt_recto(), changed, 1);
    const Outcome mirrored = compared(picture(folder, "mirrored.tif", changed));
    CHECK(mirrored.code == 3);
    CHECK_THAT(mirrored.err, Contains("mirrored.tif") && Contains("mirror"));
    cv::rotate(bt_recto(), changed, cv::ROTATE_180);
    const Outcome turned = compared(picture(folder, "turned.tif", changed));
    CHECK(turned.code == 3);
    CHECK_THAT(turned.err, Contains("turned by 180°"));
    CHECK(compared(sheet().folder / "scans/at-recto.tif").code == 1);
  }
  SECTION("mirrored, without a target to tell") {
    // Lettering: blocks of colour alone can lie alike in the mirror.
    auto scene = inkwane::simulate::solids_scene(1);
    scene.scanner.dpi = 150;
    inkwane::simulate::Area lettering;
    lettering.ink = scene.recto.front().ink;
    lettering.text = {
        "Hardy annuals from threepence a packet, carriage paid: larkspur, cornflower, "
        "mignonette, nasturtium, poppy and sweet pea, saved in our own grounds.",
        "DejaVu Serif",
        6,
        74,
        {}};
    lettering.outline_mm = {{8, 8}};
    scene.recto = {lettering};
    scene.regions.clear();
    scene.fates.clear();
    (void)inkwane::simulate::write_scene(scene, folder / "lettered");
    const fs::path before = folder / "lettered/scans/bt-recto.tif";
    cv::Mat mirrored;
    cv::flip(cv::imread(before.string(), cv::IMREAD_UNCHANGED), mirrored, 1);
    const fs::path file = picture(folder, "mirrored.tif", mirrored);
    const TemporaryFolder out;
    const Outcome outcome =
        run_inkwane({"compare", (sheet().folder / "scans" / "bt-recto.tif").string(), file.string(),
                     "-o", (out / "result").string()});
    CHECK(outcome.code == 3);
    CHECK_THAT(outcome.err, Contains("mirrored.tif") && Contains("mirror"));
    CHECK(fs::is_empty(out.path()));
  }
}

TEST_CASE("slips in the treatment file are usage errors") {
  const std::string region = "\n[[region]]\nid = \"mine\"\nside = \"recto\"\nrole = \"ink\"\n";
  CHECK_THAT(refused(sheet().toml + "\ncolour = 3\n", 2).err, Contains("colour"));
  CHECK_THAT(
      refused(sheet().toml + region + "polygon = [[0, 0], [50000, 0], [50000, 50000]]\n", 2).err,
      Contains("\"mine\""));
  CHECK_THAT(refused(sheet().toml + region + "polygon = [[1, 1], [6, 1], [6, 6], [1, 6]]\n", 2).err,
             Contains("off the sheet"));
  CHECK_THAT(
      refused(
          sheet().toml + region + "polygon = [[200, 200], [260, 260], [260, 200], [200, 260]]\n", 2)
          .err,
      Contains("crosses itself"));
  CHECK_THAT(refused(sheet().toml + region +
                         "polygon = [[200.4, 200.4], [200.41, 200.4], [200.41, 200.41]]\n",
                     2)
                 .err,
             Contains("holds no cell"));
  CHECK_THAT(
      refused(
          replaced(sheet().toml + region, "role = \"ink\"\n", "role = \"ink\"\n") +
              "polygon = [[200, 200], [260, 200], [260, 260]]\n[[region]]\nid = \"over\"\nside = "
              "\"recto\"\nrole = \"added\"\nunder = \"nothing\"\npolygon = [[200, 200], "
              "[260, 200], [260, 260]]\n",
          2)
          .err,
      Contains("\"nothing\""));
}

TEST_CASE("an output that cannot be written is an output error, and leaves nothing") {
  const std::string treatment = (sheet().folder / "treatment.toml").string();
  const TemporaryFolder folder;
  SECTION("a folder that holds something else") {
    write(folder / "notes.txt", "mine");
    const Outcome outcome = run_inkwane({"assess", treatment, "-o", folder.path().string()});
    CHECK(outcome.code == 2);
    CHECK_THAT(outcome.err, Contains("notes.txt"));
    CHECK(contents(folder / "notes.txt") == "mine");
  }
  SECTION("under a file") {
    write(folder / "file", "");
    const Outcome outcome =
        run_inkwane({"assess", treatment, "-o", (folder / "file" / "out").string()});
    CHECK(outcome.code == 4);
  }
  SECTION("a full disk") {
    const Outcome outcome =
        run_inkwane({"assess", treatment, "-o", (folder / "out").string()}, 200);
    INFO(outcome.err);
    CHECK(outcome.code == 4);
    CHECK(fs::is_empty(folder.path()));
  }
  SECTION("a place where nobody may write, not even root") {
    const Outcome outcome = run_inkwane({"assess", treatment, "-o", "/proc/self/assessment"});
    INFO(outcome.err);
    CHECK(outcome.code == 4);
    CHECK_THAT(outcome.err, Contains("/proc/self/assessment"));
  }
  SECTION("a folder without write permission") {
    if (geteuid() == 0) return;  // root may write anywhere
    fs::permissions(folder.path(), fs::perms::owner_read | fs::perms::owner_exec);
    const Outcome outcome = run_inkwane({"assess", treatment, "-o", (folder / "out").string()});
    fs::permissions(folder.path(), fs::perms::owner_all);
    CHECK(outcome.code == 4);
  }
}

TEST_CASE("a scanner's file that is missing or broken is named") {
  const std::string measure = "\n[measure]\nscanner = \"";
  CHECK_THAT(refused(sheet().toml + measure + "nowhere.toml\"\n", 3).err,
             Contains("nowhere.toml") && Contains("cannot be read"));
  CHECK_THAT(refused(sheet().toml + measure + "target.txt\"\n", 2).err,
             Contains("target.txt, line"));
  write(sheet().folder / "half.toml", "inkwane_scanner = 1\ncard = \"card.tif\"\n");
  CHECK_THAT(refused(sheet().toml + measure + "half.toml\"\n", 2).err,
             Contains("half.toml") && Contains("sha256"));
}
