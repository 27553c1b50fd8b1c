#include "scan/hash.hpp"

#include <array>

#include <fmt/format.h>
#include <openssl/evp.h>

namespace inkwane::scan {

struct Sha256::State {
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context{EVP_MD_CTX_new(),
                                                                  EVP_MD_CTX_free};
  bool good = context && EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr) == 1;
};

Sha256::Sha256() : state_(std::make_unique<State>()) {}
Sha256::~Sha256() = default;

void Sha256::add(std::span<const unsigned char> bytes) {
  state_->good =
      state_->good && EVP_DigestUpdate(state_->context.get(), bytes.data(), bytes.size()) == 1;
}

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  std::string out;
  if (!state_->good || EVP_DigestFinal_ex(state_->context.get(), digest.data(), &length) != 1)
    return out;
  for (unsigned int i = 0; i < length; ++i) out += fmt::format("{:02x}", digest[i]);
  return out;
}

std::string sha256_of(std::span<const unsigned char> bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.hex();
}

}  // namespace inkwane::scan
