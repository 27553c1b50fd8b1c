// What most files include, parsed once a build (CMake's precompiled headers). Nothing may rest on
// it: each file includes what it uses, and clang-tidy reads every file without it.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <map>
#include <memory>
#include <numbers>
#include <numeric>
#include <optional>
#include <random>
#include <set>
#include <span>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Dense>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
