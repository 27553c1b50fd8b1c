#include <inkwane/treatment.hpp>

namespace inkwane {

std::string to_string(Side side) {
  return side == Side::recto ? "recto" : "verso";
}

std::string to_string(Role role) {
  switch (role) {
    case Role::ink:
      return "ink";
    case Role::added:
      return "added";
    case Role::paper:
      return "paper";
    case Role::watch:
      return "watch";
  }
  return {};
}

std::string to_string(Turn turn) {
  return turn == Turn::side ? "side" : "top";
}

std::string to_string(Condition condition) {
  switch (condition) {
    case Condition::dry:
      return "dry";
    case Condition::damp:
      return "damp";
    case Condition::wet:
      return "wet";
  }
  return {};
}

}  // namespace inkwane
