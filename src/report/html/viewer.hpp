// One side to be looked at closely: what the script (report.js) needs for it.
#pragma once

#include "report/html/pictures.hpp"
#include "report/html/tags.hpp"

namespace inkwane::report {

/// An empty place for the side, hidden until the script fills it, and its data beside it.
void put_viewer(Page& page, const results::Results& results, Side side, Pictures& pictures);

}  // namespace inkwane::report
