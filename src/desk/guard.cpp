#include "desk/guard.hpp"

#include <array>

#include <fmt/format.h>
#include <openssl/crypto.h>
#include <openssl/rand.h>

#include <inkwane/error.hpp>

namespace inkwane::desk {
namespace {

/// In a time that does not tell how much of it was right.
bool has_token(std::string_view path, std::string_view token) {
  return path.size() >= token.size() + 2 && path[0] == '/' && path[token.size() + 1] == '/' &&
         CRYPTO_memcmp(path.data() + 1, token.data(), token.size()) == 0;
}

}  // namespace

std::string make_token() {
  std::array<unsigned char, 32> bytes{};
  if (RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) != 1) {
    throw Error(ExitCode::output, "the desk cannot be opened: the system gives no random numbers.");
  }
  std::string token;
  for (const unsigned char byte : bytes) token += fmt::format("{:02x}", byte);
  return token;
}

int refusal(const Asked& asked, std::string_view token, int port) {
  const std::string by_number = fmt::format("127.0.0.1:{}", port);
  const std::string by_name = fmt::format("localhost:{}", port);
  if (asked.host != by_number && asked.host != by_name) return 421;
  if (!asked.origin.empty() && asked.origin != "http://" + asked.host) return 403;
  if (!has_token(asked.path, token)) return 404;
  // Following a link to the page itself is harmless, whoever set it: it shows, and cannot be
  // framed.
  const bool page = asked.method == "GET" && behind_token(asked.path, token) == "/";
  const std::string& site = asked.fetch_site;
  if (!page && !site.empty() && site != "same-origin" && site != "none") return 403;
  if (asked.method == "GET") return 0;
  if (asked.method != "POST" || asked.origin.empty()) return 403;
  if (!asked.content_type.starts_with("application/json")) return 415;
  return 0;
}

std::string_view behind_token(std::string_view path, std::string_view token) {
  return path.substr(token.size() + 1);
}

}  // namespace inkwane::desk
