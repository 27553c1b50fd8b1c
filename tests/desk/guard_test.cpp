// Protects: nobody but the page that the desk served itself can ask it anything.
#include "desk/guard.hpp"

#include <set>

#include <catch2/catch.hpp>

using inkwane::desk::Asked;
using inkwane::desk::make_token;
using inkwane::desk::refusal;

namespace {

const std::string kToken(64, 'a');
constexpr int kPort = 4321;

/// What the page itself sends.
Asked own(const std::string& method, const std::string& path) {
  Asked asked{method, "/" + kToken + path, "127.0.0.1:4321", "", "same-origin", ""};
  if (method == "POST") {
    asked.origin = "http://127.0.0.1:4321";
    asked.content_type = "application/json";
  }
  return asked;
}

int answer(const Asked& asked) {
  return refusal(asked, kToken, kPort);
}

}  // namespace

TEST_CASE("the page's own requests are answered") {
  CHECK(answer(own("GET", "/state")) == 0);
  CHECK(answer(own("POST", "/save")) == 0);
  Asked typed = own("GET", "/");
  typed.fetch_site = "none";
  CHECK(answer(typed) == 0);
  typed.host = "localhost:4321";
  CHECK(answer(typed) == 0);
}

TEST_CASE("a request without the whole token finds nothing") {
  for (const std::string& path :
       {std::string("/"), std::string("/state"), "/" + kToken, "/" + kToken.substr(1) + "/state",
        "/" + kToken + "a/state", "/" + std::string(63, 'a') + "b/state", std::string()}) {
    Asked asked = own("GET", "/");
    asked.path = path;
    CHECK(answer(asked) == 404);
  }
}

TEST_CASE("a name that was pointed at this machine is turned away") {
  for (const char* host : {"evil.example:4321", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:4321.evil",
                           "[::1]:4321", ""}) {
    Asked asked = own("GET", "/state");
    asked.host = host;
    CHECK(answer(asked) == 421);
  }
}

TEST_CASE("another page in the same browser can do nothing, even with the token") {
  Asked asked = own("POST", "/save");
  for (const char* origin : {"http://evil.example", "https://127.0.0.1:4321", "null",
                             "http://127.0.0.1:4322", "http://localhost:4321"}) {
    asked.origin = origin;
    CHECK(answer(asked) == 403);
  }
  asked.origin = "";  // a client that does not say where it comes from
  CHECK(answer(asked) == 403);

  asked = own("GET", "/state");
  for (const char* site : {"cross-site", "same-site", "anything"}) {
    asked.fetch_site = site;
    CHECK(answer(asked) == 403);
  }
  asked = own("POST", "/save");  // what a form can send
  for (const char* type : {"text/plain", "application/x-www-form-urlencoded", ""}) {
    asked.content_type = type;
    CHECK(answer(asked) == 415);
  }
  for (const char* method : {"PUT", "DELETE", "OPTIONS", "HEAD", "PATCH"}) {
    CHECK(answer(own(method, "/state")) == 403);
  }
}

TEST_CASE("tokens are long and never the same") {
  std::set<std::string> tokens;
  for (int i = 0; i < 1000; ++i) tokens.insert(make_token());
  CHECK(tokens.size() == 1000);
  CHECK(tokens.begin()->size() == 64);  // 256 bits
}
