// SHA-256 (FIPS 180-4), through OpenSSL.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>

namespace inkwane::scan {

/// A digest that is fed piece by piece.
class Sha256 {
 public:
  Sha256();
  ~Sha256();
  Sha256(const Sha256&) = delete;
  Sha256& operator=(const Sha256&) = delete;
  void add(std::span<const unsigned char> bytes);
  /// Lower-case hexadecimal; empty where this system's OpenSSL offers no SHA-256. Ends the digest.
  [[nodiscard]] std::string hex();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

[[nodiscard]] std::string sha256_of(std::span<const unsigned char> bytes);

}  // namespace inkwane::scan
