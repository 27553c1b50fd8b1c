#include "desk/server.hpp"

#include <csignal>
#include <thread>

#include <fmt/format.h>
#include <pthread.h>

#include <inkwane/error.hpp>

#include "desk/desk.hpp"
#include "desk/guard.hpp"
#include "desk/page_files.hpp"
#include "treatment/save.hpp"

// After the rooms: it brings the macro _res of <resolv.h>, a name that Eigen uses.
#include <httplib.h>

namespace inkwane::desk {
namespace {

using httplib::Request;
using httplib::Response;

// Regions of hundreds of points each fit many times over.
constexpr std::size_t kLargestBody = std::size_t{4} << 20U;
// A browser asks six things at once a page.
constexpr std::size_t kConnections = 16;

/// No script or style but our own files, no frames, nothing from or to anywhere else.
constexpr const char* kPagePolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src "
    "'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// The report is one file with its style and pictures inside, and no script.
constexpr const char* kReportPolicy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action "
    "'none'; frame-ancestors 'none'";

class Server {
 public:
  Server(const std::filesystem::path& treatment, int threads)
      : token_(make_token()), desk_(treatment, threads) {
    http_.set_payload_max_length(kLargestBody);
    // One request a connection: what is left unread of one that was refused is never taken for the
    // next, and no idle connection holds a thread.
    http_.set_keep_alive_max_count(1);
    http_.new_task_queue = [] { return new httplib::ThreadPool(kConnections); };
    http_.set_pre_routing_handler([this](const Request& asked, Response& answer) {
      harden(answer);
      const int status =
          refusal({asked.method, asked.path, asked.get_header_value("Host"),
                   asked.get_header_value("Origin"), asked.get_header_value("Sec-Fetch-Site"),
                   asked.get_header_value("Content-Type")},
                  token_, port_);
      if (status == 0) return Http::HandlerResponse::Unhandled;
      answer.status = status;
      return Http::HandlerResponse::Handled;
    });
    add_routes();
  }

  void listen(const ServeOptions& options) {
    port_ = options.port;
    const bool bound = options.port == 0 ? (port_ = http_.bind_to_any_port("127.0.0.1")) > 0
                                         : http_.bind_to_port("127.0.0.1", options.port);
    if (!bound) {
      throw Error(ExitCode::output,
                  fmt::format("port {} of this machine cannot be opened; another program may hold "
                              "it. Give another --port, or none.",
                              options.port));
    }
    if (options.ready) options.ready(fmt::format("http://127.0.0.1:{}/{}/", port_, token_));
    http_.listen_after_bind();
    desk_.stop();
  }

  void stop() {
    http_.stop();
    desk_.stop();
  }

 private:
  using Http = httplib::Server;
  using Match = httplib::Match;

  static void harden(Response& answer) {
    answer.set_header("Content-Security-Policy", kPagePolicy);
    answer.set_header("Referrer-Policy", "no-referrer");
    answer.set_header("X-Content-Type-Options", "nosniff");
    answer.set_header("X-Frame-Options", "DENY");
    answer.set_header("Cross-Origin-Resource-Policy", "same-origin");
    answer.set_header("Cross-Origin-Opener-Policy", "same-origin");
    answer.set_header("Cache-Control", "no-store");
  }

  static void say(Response& answer, int status, const std::string& sentence) {
    answer.status = status;
    answer.set_content(Json{{"error", sentence}}.dump(), "application/json");
  }

  /// What a route does, its errors turned into answers.
  template <typename Do>
  auto guarded(const Do& act) {
    return [act](const Request& asked, Response& answer) {
      try {
        act(asked, answer);
      } catch (const treatment::ChangedUnderneath& error) {
        say(answer, 409, error.what());
      } catch (const Error& error) {
        say(answer, 422, error.what());
      } catch (const BadRequest& error) {
        say(answer, 400, error.what());
      } catch (const Json::exception&) {
        say(answer, 400, "not what was asked for");
      } catch (const std::bad_alloc&) {
        say(answer, 503, "Memory ran out; close other programs.");
      } catch (const std::exception& error) {
        say(answer, 500,
            fmt::format("Something unexpected happened ({}); please report this.", error.what()));
      }
    };
  }

  static void send(Response& answer, const Json& json) {
    answer.set_content(json.dump(-1, ' ', false, Json::error_handler_t::replace),
                       "application/json");
  }
  static void send(Response& answer, const std::vector<unsigned char>& bytes, const char* type) {
    answer.set_content(reinterpret_cast<const char*>(bytes.data()), bytes.size(), type);
  }
  /// The address tells the version of what it shows.
  static void may_be_kept(Response& answer) {
    answer.headers.erase("Cache-Control");
    answer.set_header("Cache-Control", "private, max-age=86400, immutable");
  }

  static std::size_t index(const std::string& digits) { return std::stoul(digits); }

  template <typename Do>
  void get(const std::string& pattern, const Do& act) {
    http_.Get("/" + token_ + pattern, guarded(act));
  }
  template <typename Do>
  void post(const std::string& pattern, const Do& act) {
    http_.Post("/" + token_ + pattern, guarded([act](const Request& asked, Response& answer) {
                 send(answer, act(Json::parse(asked.body)));
               }));
  }

  void add_routes() {
    get("/(?:file/([a-z.-]+))?", [](const Request& asked, Response& answer) {
      const std::string name = asked.matches[1].matched ? asked.matches[1].str() : "index.html";
      const PageFile* file = page_file(name);
      if (file == nullptr) throw BadRequest("no such file");
      answer.set_content(file->content.data(), file->content.size(),
                         std::string(file->type).c_str());
    });
    get("/state", [this](const Request&, Response& answer) { send(answer, desk_.state()); });
    get("/progress", [this](const Request&, Response& answer) { send(answer, desk_.progress()); });
    get("/found", [this](const Request&, Response& answer) { send(answer, desk_.found()); });
    get("/results", [this](const Request&, Response& answer) { send(answer, desk_.results()); });
    get("/report", [this](const Request&, Response& answer) {
      answer.headers.erase("Content-Security-Policy");
      answer.set_header("Content-Security-Policy", kReportPolicy);
      answer.set_content(desk_.report(), "text/html; charset=utf-8");
    });
    get("/scan/(\\d{1,3})/(recto|verso)", [this](const Request& asked, Response& answer) {
      send(answer, desk_.scan(index(asked.matches[1]), side_from(asked.matches[2])));
    });
    get("/(tile|laid)/[0-9a-f]{1,32}/(\\d{1,3})/(recto|verso)/(\\d{1,2})/(\\d{1,4})/(\\d{1,4})",
        [this](const Request& asked, Response& answer) {
          const Match& m = asked.matches;
          const auto number = [&m](std::size_t i) { return std::stoi(m[i]); };
          send(answer,
               desk_.tile(index(m[2]), side_from(m[3]), m[1] == "laid", number(4), number(5),
                          number(6)),
               "image/jpeg");
          may_be_kept(answer);
        });
    get("/colour/(\\d{1,3})/(recto|verso)/(scan|laid)", [this](const Request& asked,
                                                               Response& answer) {
      const auto coordinate = [&asked](const char* key) {
        try {
          return std::stod(asked.get_param_value(key));
        } catch (const std::exception&) {
          throw BadRequest("x and y are wanted");
        }
      };
      send(answer, desk_.colour(index(asked.matches[1]), side_from(asked.matches[2]),
                                asked.matches[3] == "laid", {coordinate("x"), coordinate("y")}));
    });
    get("/map/\\d+/(\\d{1,4})", [this](const Request& asked, Response& answer) {
      send(answer, desk_.map_overlay(index(asked.matches[1])), "image/png");
      may_be_kept(answer);
    });
    post("/save", [this](const Json& json) { return desk_.save(json); });
    post("/reject", [this](const Json& json) { return desk_.reject(json); });
    post("/shape", [this](const Json& json) { return desk_.shape(json); });
    post("/look", [this](const Json& json) {
      desk_.look(json);
      return desk_.progress();
    });
    post("/assess", [this](const Json&) {
      desk_.assess();
      return desk_.progress();
    });
    post("/stop", [this](const Json&) {
      desk_.stop();
      return desk_.progress();
    });
  }

  std::string token_;
  Desk desk_;
  int port_ = 0;
  Http http_;
};

/// Waits for Ctrl-C in a thread of its own: a signal's handler may do next to nothing.
class Interrupt {
 public:
  Interrupt() {
    sigemptyset(&signals_);
    for (const int signal : {SIGINT, SIGTERM, SIGUSR1}) sigaddset(&signals_, signal);
    pthread_sigmask(SIG_BLOCK, &signals_, &before_);  // inherited by every thread that follows
  }
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;
  ~Interrupt() {
    if (thread_.joinable()) {
      pthread_kill(thread_.native_handle(), SIGUSR1);
      thread_.join();
    }
    pthread_sigmask(SIG_SETMASK, &before_, nullptr);
  }
  template <typename Do>
  void then(const Do& act) {
    thread_ = std::thread([this, act] {
      int signal = 0;
      if (sigwait(&signals_, &signal) == 0 && signal != SIGUSR1) act();
    });
  }

 private:
  sigset_t signals_{}, before_{};
  std::thread thread_;
};

}  // namespace

void serve(const std::filesystem::path& treatment, const ServeOptions& options) {
  Interrupt interrupt;
  Server server(treatment, options.threads);
  interrupt.then([&server] { server.stop(); });
  server.listen(options);
}

}  // namespace inkwane::desk
