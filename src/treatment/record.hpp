// What a record holds beside the steps: object, people, consent, spot tests.
#pragma once

#include <inkwane/treatment.hpp>

#include "treatment/toml_table.hpp"

namespace inkwane::treatment {

/// [record] and a [[spot_test]]. Throw Error(usage) for unknown keys and values of the wrong type.
[[nodiscard]] Record read_record(const Table& table);
[[nodiscard]] SpotTest read_spot_test(const Table& table);

}  // namespace inkwane::treatment
