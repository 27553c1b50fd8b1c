// Who may ask the desk: the page it served itself, and nobody else. Any page that is open in the
// same browser can send requests to this machine, and any name can be made to point at it.
#pragma once

#include <string>
#include <string_view>

namespace inkwane::desk {

/// 256 random bits as lower-case hexadecimal. Throws Error(output) where the system has none.
[[nodiscard]] std::string make_token();

/// What the guard looks at; a header that was not sent is empty.
struct Asked {
  std::string method, path;
  std::string host, origin, fetch_site, content_type;
};

/// 0 where the request may be answered, else the HTTP status to refuse it with:
/// 421 for another Host than 127.0.0.1 or localhost and this port (a name that was pointed here);
/// 403 for another Origin, for a request that another site caused, and for a POST that does not say
/// where it comes from; 404 for a path without the token; 415 for a POST that is not JSON.
[[nodiscard]] int refusal(const Asked& asked, std::string_view token, int port);

/// The path behind the token: "/state" of "/TOKEN/state".
[[nodiscard]] std::string_view behind_token(std::string_view path, std::string_view token);

}  // namespace inkwane::desk
