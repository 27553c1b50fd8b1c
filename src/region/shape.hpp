// Regions as other programs know them: shapes drawn on a picture.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::region {

/// A shape and what its file says of it; what it does not say is empty. Places are pixels as
/// everywhere in inkwane: the centre of the top-left pixel is (0, 0). SVG and media fragments have
/// that pixel's corner there, so half a pixel is taken off when reading and put on when writing.
struct Shape {
  std::string id, name, role, under, side;
  std::string source;  ///< the picture it was drawn on, as the file names it
  std::vector<Point> polygon;
  std::string where;  ///< for messages: "annotation 3", "<path id=…>"
};

/// How large the scan is that a file means: by its side, where it is known, and the picture's name.
using ScanSize = std::function<cv::Size(const Shape& shape)>;

/// SVG 1.1: polygon, polyline, rect, circle, ellipse, line and path, in groups, with transforms; an
/// open line without fill becomes an area of its stroke's width. A viewBox of the scan's
/// proportions (to 1 %) is scaled to it. Throws Error(usage) that names `file` and the element that
/// can't be read.
[[nodiscard]] std::vector<Shape> read_svg(const std::string& text, const ScanSize& scan,
                                          const std::string& file);
/// `scan_file` is named as the picture that lies below.
[[nodiscard]] std::string write_svg(const std::vector<Shape>& shapes, cv::Size scan,
                                    const std::string& scan_file);

/// W3C Web Annotation Data Model (Recommendation, 23 February 2017): an Annotation, a list of them,
/// an AnnotationPage or an AnnotationCollection; SvgSelector, FragmentSelector and IRIs that end in
/// a spatial fragment (Media Fragments URI 1.0, 4.2.2). Throws Error(usage) that names `file` and
/// the annotation.
[[nodiscard]] std::vector<Shape> read_annotations(const std::string& text, const ScanSize& scan,
                                                  const std::string& file);
/// An AnnotationPage. Rectangles along the pixels' edges also get a FragmentSelector.
[[nodiscard]] std::string write_annotations(const std::vector<Shape>& shapes, const ScanSize& scan);

}  // namespace inkwane::region
