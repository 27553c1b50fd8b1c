#include "report/html/pictures.hpp"

#include <array>
#include <fstream>
#include <iterator>

#include <fmt/format.h>
#include <openssl/evp.h>

#include <inkwane/error.hpp>

namespace inkwane::report {
namespace {

/// Room for files in a page that is to stay below 15 MB, so that it can be sent by mail.
constexpr std::size_t kRoom = 14'000'000;

}  // namespace

std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(stream), {}};
  if (!stream || bytes.empty())
    throw Error(ExitCode::output,
                fmt::format("{} could not be read for the report: assess the treatment again.",
                            file.string()));
  return bytes;
}

std::string base64(const std::string& bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const auto* from = reinterpret_cast<const unsigned char*>(bytes.data());
  auto* to = reinterpret_cast<unsigned char*>(text.data());
  text.resize(static_cast<std::size_t>(EVP_EncodeBlock(to, from, static_cast<int>(bytes.size()))));
  return text;
}

std::string policy_hash(const std::string& script) {
  std::string digest(32, '\0');
  unsigned length = 0;
  EVP_Digest(script.data(), script.size(), reinterpret_cast<unsigned char*>(digest.data()), &length,
             EVP_sha256(), nullptr);
  return "sha256-" + base64(digest);
}

std::string Pictures::data(const std::string& file) {
  const std::string bytes = bytes_of(folder_ / file);
  const std::size_t size = 4 * bytes.size() / 3;
  if (taken_ + size > kRoom) return {};
  taken_ += size;
  return base64(bytes);
}

std::string Pictures::uri(const std::string& file) {
  const std::string text = data(file);
  if (text.empty()) return {};
  const bool png = std::filesystem::path(file).extension() == ".png";
  return fmt::format("data:image/{};base64,{}", png ? "png" : "jpeg", text);
}

}  // namespace inkwane::report
