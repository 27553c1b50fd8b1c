// Protects: regions drawn elsewhere arrive where they were drawn, those drawn here are understood
// elsewhere, and what cannot be understood is refused by name.
#include "region/exchange.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "region/svg_path.hpp"
#include "treatment/polygon.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using region::Shape;

namespace {

const cv::Size kScan{1000, 800};
const region::ScanSize kSize = [](const Shape&) { return kScan; };

std::vector<Shape> svg(const std::string& inside, const std::string& attributes = "") {
  return region::read_svg(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" " + attributes + ">" + inside + "</svg>", kSize,
      "drawn.svg");
}

std::vector<Shape> annotations(const std::string& text) {
  return region::read_annotations(text, kSize, "drawn.json");
}

template <typename Call>
std::string refusal(const Call& call) {
  try {
    (void)call();
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    return error.what();
  }
  return "accepted";
}

void check_rectangle(const std::vector<Point>& polygon, double left, double top, double right,
                     double bottom) {
  REQUIRE(polygon.size() == 4);
  CHECK(polygon[0].x == left);
  CHECK(polygon[0].y == top);
  CHECK(polygon[2].x == right);
  CHECK(polygon[2].y == bottom);
}

Treatment sheet() {
  return parse_treatment(R"(inkwane = 1
[object]
title = "x"
[[stage]]
id = "BT"
recto = "scans/bt-recto.tif"
[[region]]
id = "red petals"
name = "red <of> the petals"
side = "recto"
role = "ink"
polygon = [[9.5, 19.5], [109.5, 19.5], [109.5, 69.5], [9.5, 69.5]]
[[region]]
id = "line"
side = "recto"
role = "added"
under = "red petals"
polygon = [[10.25, 20], [30, 20], [30, 40.75]]
)",
                         "sheet/treatment.toml");
}

}  // namespace

TEST_CASE("an image's part named by its IRI, as the Web Annotation Data Model has it") {
  // W3C Recommendation "Web Annotation Data Model", 23 February 2017, 3.2, example 4.
  const auto shapes = annotations(R"({
    "@context": "http://www.w3.org/ns/anno.jsonld",
    "id": "http://example.org/anno4",
    "type": "Annotation",
    "body": "http://example.org/description1",
    "target": {
      "id": "http://example.com/image1#xywh=100,100,300,300",
      "type": "Image",
      "format": "image/jpeg"
    }
  })");
  REQUIRE(shapes.size() == 1);
  CHECK(shapes[0].id == "anno4");
  CHECK(shapes[0].source == "http://example.com/image1");
  // x = 0, y = 0 is the corner of the picture, half a pixel before the first pixel's centre.
  check_rectangle(shapes[0].polygon, 99.5, 99.5, 399.5, 399.5);
}

TEST_CASE("fragment selectors in pixels and per cent, and an SVG selector before both") {
  // "xywh=50,50,640,480": the same Recommendation, 4.2.1, table of fragment specifications;
  // pixel: and percent: Media Fragments URI 1.0 (Recommendation, 25 September 2012), 4.2.2.
  const auto with_selector = [](const std::string& selector) {
    return annotations(R"({"type": "AnnotationPage", "items": [{"type": "Annotation", "body": [
      {"type": "TextualBody", "purpose": "describing", "value": "red"},
      {"type": "TextualBody", "purpose": "classifying", "value": "ink"}],
      "target": {"source": {"id": "http://a.example/bt-recto.tif"}, "selector": )" +
                       selector + "}}]}")
        .front();
  };
  const Shape plain = with_selector(
      R"({"type": "FragmentSelector", "conformsTo": "http://www.w3.org/TR/media-frags/", "value": "xywh=50,50,640,480"})");
  CHECK(plain.name == "red");
  CHECK(plain.role == "ink");
  check_rectangle(plain.polygon, 49.5, 49.5, 689.5, 529.5);
  check_rectangle(
      with_selector(R"({"type": "FragmentSelector", "value": "xywh=percent:10,25,50,50"})").polygon,
      99.5, 199.5, 599.5, 599.5);
  const Shape both = with_selector(
      R"([{"type": "FragmentSelector", "value": "xywh=pixel:0,0,10,10"},
          {"type": "SvgSelector", "value": "<svg:svg xmlns:svg='http://www.w3.org/2000/svg'><svg:polygon points='1,1 5,1 5,6'/></svg:svg>"}])");
  REQUIRE(both.polygon.size() == 3);
  CHECK(both.polygon[2].y == 5.5);
}

TEST_CASE("path data, as SVG 1.1 draws it") {
  using region::read_path;
  // SVG 1.1 (Second Edition), 8.3.2, example triangle01.
  const auto triangle = read_path("M 100 100 L 300 100 L 200 300 z");
  REQUIRE(triangle.size() == 1);
  CHECK(triangle[0].closed);
  CHECK(treatment::polygon_area(triangle[0].points) == 20000);
  // 8.3.8, example arcs01: three quarters of a circle of radius 150, and the quarter.
  const auto pie = read_path("M300,200 h-150 a150,150 0 1,0 150,-150 z");
  CHECK_THAT(treatment::polygon_area(pie[0].points), WithinRel(0.75 * M_PI * 150 * 150, 1e-4));
  const auto slice = read_path("M275,175 v-150 a150,150 0 0,0 -150,150 z");
  CHECK_THAT(treatment::polygon_area(slice[0].points), WithinRel(0.25 * M_PI * 150 * 150, 1e-4));
  // The usual four cubics of a circle (control points at 0.5523 r): within 0.03 % of it.
  const auto round = read_path(
      "M10,0C10,5.523 5.523,10 0,10-5.523,10-10,5.523-10,0S-5.523-10 0-10 10-5.523 10,0Z");
  CHECK_THAT(treatment::polygon_area(round[0].points), WithinRel(M_PI * 100, 0.01));
  // Flags and numbers that run into each other; further pairs after a move are lines.
  CHECK(read_path("m.5.5 10-1e1A5 5 0 0115 15")[0].points.back().x == 15);
  CHECK(read_path("M0 0Q5 10 10 0T20 0Z")[0].points.back().x == 20);
  CHECK_THROWS_AS(read_path("L 1 1"), std::invalid_argument);
  CHECK_THROWS_AS(read_path("M 1"), std::invalid_argument);
  CHECK_THROWS_AS(read_path("M 1 1 Z 5"), std::invalid_argument);
  CHECK_THROWS_AS(read_path("M 1 1 A 5 5 0 2 0 3 3"), std::invalid_argument);
}

TEST_CASE("transforms, as SVG 1.1 nests them") {
  // SVG 1.1 (Second Edition), 7.4, example Nested: translate(50,90) rotate(-45) translate(130,160).
  // The specification gives the resulting matrix: .707 −.707 .707 .707 255.03 111.21.
  const cv::Matx33d m = region::read_transform("translate(50,90),rotate(-45) translate(130 160)");
  CHECK_THAT(m(0, 0), WithinAbs(0.707, 0.001));
  CHECK_THAT(m(1, 0), WithinAbs(-0.707, 0.001));
  // It rounds sin 45° to .707 before it multiplies by 290.
  CHECK_THAT(m(0, 2), WithinAbs(255.03, 0.04));
  CHECK_THAT(m(1, 2), WithinAbs(111.21, 0.01));
}

TEST_CASE("every kind of SVG shape becomes its area") {
  const auto area = [](const std::string& inside) {
    return treatment::polygon_area(svg(inside).front().polygon);
  };
  CHECK_THAT(area("<rect x='10' y='20' width='30' height='5'/>"), WithinRel(150, 1e-9));
  CHECK_THAT(area("<circle cx='50' cy='50' r='20'/>"), WithinRel(M_PI * 400, 0.01));
  CHECK_THAT(area("<g transform='scale(2)'><ellipse cx='50' cy='50' rx='20' ry='10'/></g>"),
             WithinRel(4 * M_PI * 200, 0.01));
  CHECK_THAT(area("<line x1='10' y1='10' x2='110' y2='10' stroke-width='4'/>"),
             WithinRel(400, 1e-9));
  CHECK_THAT(area("<polyline fill='none' style='stroke:red; stroke-width: 2px' "
                  "points='10,10 110,10 110,60'/>"),
             WithinRel(300, 0.01));
  CHECK_THAT(area("<polyline points='10,10 110,10 110,60'/>"), WithinRel(2500, 1e-9));
  CHECK_THAT(area("<defs/><path d='M0 0H10V10H0Z'/>"), WithinRel(100, 1e-9));
}

TEST_CASE("a drawing at another size is brought to the scan's") {
  const auto shapes = svg("<rect x='10' y='10' width='40' height='30'/>", "viewBox='0 0 500 400'");
  check_rectangle(shapes[0].polygon, 19.5, 19.5, 99.5, 79.5);
  CHECK_THAT(refusal([] { return svg("<rect width='9' height='9'/>", "viewBox='0 0 500 500'"); }),
             Contains("has not the proportions of the scan of 1000 × 800"));
}

TEST_CASE("what is no region is refused by name") {
  CHECK_THAT(refusal([] { return svg("<use href='#a'/>"); }), Contains("<use> at byte"));
  CHECK_THAT(refusal([] { return svg("<path id='p' d='M0 0H1V1ZM5 5H6V6Z'/>"); }),
             Contains("<path id=\"p\"> has 2 parts"));
  CHECK_THAT(refusal([] { return svg("<polygon points='1 2 3'/>"); }), Contains("odd number"));
  CHECK_THAT(refusal([] { return svg("<rect width='1cm' height='2'/>"); }),
             Contains("a plain number is wanted"));
  CHECK_THAT(refusal([] { return region::read_svg("<svg><", kSize, "f"); }),
             Contains("is not XML"));
  CHECK_THAT(refusal([] { return annotations("{"); }), Contains("is not JSON"));
  CHECK_THAT(refusal([] { return annotations("{\"type\": \"Manifest\"}"); }),
             Contains("no Web Annotations"));
  CHECK_THAT(refusal([] {
               return annotations(R"({"type": "Annotation", "target": "http://a.example/x"})");
             }),
             Contains("annotation 1 selects no place"));
  CHECK_THAT(
      refusal([] {
        return annotations(
            R"([{"type": "Annotation", "target": {"source": "x", "selector": {"type": "SvgSelector", "id": "http://a.example/s"}}}])");
      }),
      Contains("lies elsewhere"));
  std::string deep;
  for (int i = 0; i < 100'000; ++i) deep += "<g>";
  CHECK_THAT(refusal([&deep] { return svg(deep); }), !Contains("accepted"));
}

TEST_CASE("what is exported comes back as it was") {
  const Treatment t = sheet();
  const auto shapes = region::to_shapes(t, std::nullopt);
  const auto check_same = [&](const std::vector<Shape>& back, double tolerance) {
    REQUIRE(back.size() == shapes.size());
    for (std::size_t i = 0; i < back.size(); ++i) {
      CHECK(back[i].name == shapes[i].name);
      CHECK(back[i].role == shapes[i].role);
      CHECK(back[i].under == shapes[i].under);
      REQUIRE(back[i].polygon.size() == shapes[i].polygon.size());
      for (std::size_t k = 0; k < back[i].polygon.size(); ++k) {
        CHECK_THAT(back[i].polygon[k].x, WithinAbs(shapes[i].polygon[k].x, tolerance));
        CHECK_THAT(back[i].polygon[k].y, WithinAbs(shapes[i].polygon[k].y, tolerance));
      }
    }
  };
  const std::string json = region::write_annotations(shapes, kSize);
  CHECK_THAT(json, Contains("xywh=10,20,100,50"));
  CHECK_THAT(json, Contains("\"source\": \"scans/bt-recto.tif\""));
  const auto back = annotations(json);
  CHECK(back[0].id == "red petals");
  check_same(back, 1e-3);
  check_same(region::read_svg(region::write_svg(shapes, kScan, "a & b"), kSize, "f"), 1e-3);
}

TEST_CASE("shapes become regions only where side, role and id are clear") {
  const Treatment t = sheet();
  Shape shape;
  shape.where = "annotation 1";
  shape.source = "http://a.example/images/bt-recto.tif";
  shape.id = "line";
  shape.role = "ink";
  shape.polygon = {{0, 0}, {5, 5}, {5, 0}, {0, 5}};
  const auto bring = [&](const region::Given& given) {
    return region::with_shapes(t, {shape}, given, "drawn.json");
  };
  shape.source = "http://a.example/other.tif";
  CHECK_THAT(refusal([&] { return bring({}); }), Contains("annotation 1 does not say which side"));
  shape.side = "front";
  CHECK_THAT(refusal([&] { return bring({}); }), Contains("must be recto or verso"));
  shape.side = "recto";
  shape.role = "";
  CHECK_THAT(refusal([&] { return bring({}); }), Contains("give --role"));
  shape.role = "halo";
  CHECK_THAT(refusal([&] { return bring({}); }), Contains("\"halo\", which is none"));
  CHECK_THAT(refusal([&] { return bring({{}, Role::ink, false}); }), Contains("crosses itself"));
}
