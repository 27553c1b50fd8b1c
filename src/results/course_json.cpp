#include "results/course_json.hpp"

namespace inkwane::results {
namespace {

/// Sets `name` and `name_ci95`; both null where there is no estimate.
void put(Json& json, const std::string& name, const std::optional<Estimate>& estimate) {
  json[name] = estimate ? number(estimate->value) : Json(nullptr);
  json[name + "_ci95"] =
      estimate ? Json{number(estimate->ci95[0]), number(estimate->ci95[1])} : Json(nullptr);
}

std::optional<Estimate> take(const Json& json, const std::string& name) {
  if (json.at(name).is_null()) return std::nullopt;
  const Json& ends = json.at(name + "_ci95");
  return Estimate{json.at(name).get<double>(),
                  {ends.at(0).get<double>(), ends.at(1).get<double>()}};
}

std::vector<std::string> sentences(const Json& json, const char* name) {
  return json.at(name).get<std::vector<std::string>>();
}

Json of(const CoursePoint& point) {
  Json out{{"stage", point.stage},
           {"minutes", number(point.minutes)},
           {"dose_j_per_cm2", number(point.dose_j_per_cm2)}};
  put(out, "removed", point.removed);
  put(out, "lost", point.lost);
  out["counts"] = point.counts;
  out["warnings"] = point.warnings;
  return out;
}

CoursePoint point_from(const Json& json) {
  return {json.at("stage").get<std::string>(),
          number_of(json.at("minutes")),
          number_of(json.at("dose_j_per_cm2")),
          take(json, "removed"),
          take(json, "lost"),
          json.at("counts").get<bool>(),
          sentences(json, "warnings")};
}

Json of(const Decay& decay) {
  Json out{{"region", decay.region}, {"role", to_string(decay.role)}, {"against", decay.against}};
  put(out, "rate", decay.rate);
  put(out, "floor", decay.floor);
  out["shape"] = number(decay.shape);
  out["note"] = decay.note;
  return out;
}

Decay decay_from(const Json& json) {
  return {json.at("region").get<std::string>(),
          role_of(json.at("role")),
          json.at("against").get<std::string>(),
          take(json, "rate"),
          take(json, "floor"),
          json.at("shape").get<double>(),
          json.at("note").get<std::string>()};
}

Json of(const LastStep& step) {
  Json out{{"from", step.from},
           {"to", step.to},
           {"minutes", number(step.minutes)},
           {"dose_j_per_cm2", number(step.dose_j_per_cm2)}};
  put(out, "removed", step.removed);
  put(out, "lost", step.lost);
  return out;
}

LastStep last_step_from(const Json& json) {
  return {json.at("from").get<std::string>(),
          json.at("to").get<std::string>(),
          number_of(json.at("minutes")),
          number_of(json.at("dose_j_per_cm2")),
          take(json, "removed"),
          take(json, "lost")};
}

Json of(const Forecast& forecast) {
  Json out{{"like_from", forecast.like_from}, {"like_to", forecast.like_to}};
  put(out, "removed", forecast.removed);
  put(out, "lost", forecast.lost);
  put(out, "step_removed", forecast.step_removed);
  put(out, "step_lost", forecast.step_lost);
  out["note"] = forecast.note;
  return out;
}

Forecast forecast_from(const Json& json) {
  return {json.at("like_from").get<std::string>(),
          json.at("like_to").get<std::string>(),
          take(json, "removed"),
          take(json, "lost"),
          take(json, "step_removed"),
          take(json, "step_lost"),
          json.at("note").get<std::string>()};
}

}  // namespace

Json course_to_json(const std::optional<Course>& course) {
  if (!course) return nullptr;
  Json out = Json::object();
  for (const char* name : {"points", "weights", "decays"}) out[name] = Json::array();
  for (const CoursePoint& point : course->points) out["points"].push_back(of(point));
  for (const CourseWeight& one : course->weights) {
    out["weights"].push_back(
        {{"region", one.region}, {"role", to_string(one.role)}, {"weight", number(one.weight)}});
  }
  for (const Decay& decay : course->decays) out["decays"].push_back(of(decay));
  out["last_step"] = course->last_step ? of(*course->last_step) : Json(nullptr);
  out["forecast"] = course->forecast ? of(*course->forecast) : Json(nullptr);
  out["advice"] = course->advice ? Json{{"verdict", course->advice->verdict},
                                        {"reason", course->advice->reason},
                                        {"thresholds", course->advice->thresholds}}
                                 : Json(nullptr);
  out["warnings"] = course->warnings;
  out["cautions"] = course->cautions;
  return out;
}

std::optional<Course> course_from_json(const Json& json) {
  if (json.is_null()) return std::nullopt;
  Course out;
  for (const Json& point : json.at("points")) out.points.push_back(point_from(point));
  for (const Json& one : json.at("weights")) {
    out.weights.push_back({one.at("region").get<std::string>(), role_of(one.at("role")),
                           one.at("weight").get<double>()});
  }
  for (const Json& decay : json.at("decays")) out.decays.push_back(decay_from(decay));
  if (!json.at("last_step").is_null()) out.last_step = last_step_from(json.at("last_step"));
  if (!json.at("forecast").is_null()) out.forecast = forecast_from(json.at("forecast"));
  if (const Json& advice = json.at("advice"); !advice.is_null()) {
    out.advice = Advice{advice.at("verdict").get<std::string>(),
                        advice.at("reason").get<std::string>(), sentences(advice, "thresholds")};
  }
  out.warnings = sentences(json, "warnings");
  out.cautions = sentences(json, "cautions");
  return out;
}

}  // namespace inkwane::results
