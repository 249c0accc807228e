#include "capi/documents/plan_card.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <string_view>
#include <utility>
#include <vector>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/html_text.h"
#include "core/circuit/cautions.h"
#include "core/number_text.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;
using diagnosis::Plan;
using diagnosis::PlanNode;

constexpr std::size_t kMostEnds = 11;  // of branches drawn
// An error of a probability that is said on the card.
constexpr double kLeastShown = 0.01;
// In mm: the page without its margins, and of the tree. A letter is about 0.53 times as wide as the
// type is high (working judgement).
constexpr double kWidth = 194, kHeight = 279;
constexpr double kType = 2.3, kLine = 2.7, kGap = 4;
constexpr double kApart = 1.6, kMostTall = 178;  // between boxes; of the tree
constexpr double kLetter = 0.53;
// Type of the text besides: as large as the page allows, in mm.
constexpr std::array<double, 7> kSizes{2.7, 2.5, 2.3, 2.1, 1.9, 1.7, 1.5};
constexpr double kLeading = 1.25;

std::string number(double value, int decimals) {
  std::array<char, 400> digits{};
  const auto end = write_number(digits.data(), digits.data() + digits.size(), value, decimals);
  return {digits.data(), end.ptr};
}

// Characters, not bytes.
std::size_t length_of(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

// At most `most` characters; what is cut ends so.
std::string shortened(std::string_view text, std::size_t most) {
  if (length_of(text) <= most) return std::string(text);
  std::size_t at = 0;
  for (std::size_t kept = 0; at < text.size(); ++at) {
    if ((text[at] & 0xC0) != 0x80 && ++kept == most) break;
  }
  return std::string(text.substr(0, at)) + "…";
}

// In lines of at most `most` characters, at most `lines` of them.
std::vector<std::string> wrapped(const std::string& text, std::size_t most, std::size_t lines) {
  std::vector<std::string> out;
  std::string rest = text;
  while (!rest.empty() && out.size() < lines) {
    if (length_of(rest) <= most || out.size() + 1 == lines) {
      out.push_back(shortened(rest, most));
      break;
    }
    std::size_t at = rest.rfind(' ', most);
    if (at == std::string::npos || at == 0) {
      out.push_back(shortened(rest, most));
      break;
    }
    out.push_back(rest.substr(0, at));
    rest.erase(0, at + 1);
  }
  return out;
}

// In lines of at most `most` characters, all of it: a word that is longer is broken.
std::vector<std::string> broken(const std::string& text, std::size_t most) {
  std::vector<std::string> lines;
  std::string_view rest = text;
  while (length_of(rest) > most) {
    std::size_t end = 0, space = 0;
    for (std::size_t letters = 0;; ++end) {
      if ((rest[end] & 0xC0) != 0x80 && letters++ == most) break;
      if (rest[end] == ' ') space = end;
    }
    if (rest[end] == ' ') space = end;
    lines.emplace_back(rest.substr(0, space > 0 ? space : end));
    rest.remove_prefix(space > 0 ? space + 1 : end);
  }
  if (!rest.empty()) lines.emplace_back(rest);
  return lines;
}

// Control characters become spaces.
std::string escaped(std::string_view text) {
  std::string plain(text);
  std::replace_if(
      plain.begin(), plain.end(),
      [](char c) { return static_cast<unsigned char>(c) < ' ' || c == 0x7F; }, ' ');
  return escape_html(plain);
}

class Card {
 public:
  Card(const Words& words, const Json& the_case, const Plan* plan)
      : words_(words), analysis_(words.analysis()), case_(the_case), plan_(plan) {}

  std::string write() {
    if (plan_ != nullptr) {
      lay_out();
    }
    const std::string title = head_title();
    std::string body = cautions() + head(title);
    if (plan_ == nullptr) {
      body += "<p>" + escaped(say("card.no_complaint")) + "</p>";
    } else {
      body += tree() + tests() + bring() + blanks();
    }
    const std::string type = number(size_for(), 2);
    return "<!DOCTYPE html>\n<html lang=\"" + words_.language() + "\"" +
           (words_.right_to_left() ? " dir=\"rtl\"" : "") +
           "><head><meta charset=\"utf-8\">\n<title>" + escaped(title) +
           "</title>\n<style>@page{size:A4;margin:8mm}body{font:" + type +
           "mm/1.25 sans-serif;width:194mm;margin:0 "
           "auto;overflow-wrap:anywhere}h1{font-size:1.5em;margin:.4em 0 .1em}p{"
           "margin:.2em 0}.cautions{border:.5mm solid;padding:.3em;font-weight:bold}.cautions "
           "ul{columns:2;margin:0;padding-inline-start:1.2em}svg{display:block;width:194mm;margin:."
           "5em "
           "0}svg text{font:2.3mm sans-serif}table{border-collapse:collapse;width:100%}td,th{"
           "border:.2mm solid #888;padding:.1em .3em;text-align:start;vertical-align:top}.line{"
           "display:inline-block;border-bottom:.2mm solid;min-width:24mm}</style></head><body>\n" +
           body + "</body></html>\n";
  }

 private:
  const Observation& observation(std::uint32_t o) const { return analysis_.observations[o]; }
  std::string say(std::string_view id, std::initializer_list<MessageWord> words = {}) const {
    return words_.say(id, words);
  }
  std::string percent(double p) const { return words_.percent(p); }

  // ---- what is drawn

  std::size_t ends_of(const PlanNode& node) const {
    return static_cast<std::size_t>(std::count_if(node.branches.begin(), node.branches.end(),
                                                  [](const auto& b) { return b.to.has_value(); }));
  }

  // As many ends as the page has room for.
  void lay_out() {
    for (std::size_t ends = kMostEnds; ends > 0; --ends) {
      names_.clear();
      order_.clear();
      choose(ends);
      for (std::size_t at = 0; at < plan_->nodes.size(); ++at) name_tests(at);
      std::size_t depth = 0;
      for (std::size_t i = 0; i < drawn_.size(); ++i) {
        if (drawn_[i]) depth = std::max(depth, plan_->nodes[i].depth);
      }
      column_ = (kWidth + kGap) / static_cast<double>(depth + 1);
      std::string boxes;
      tree_height_ = 0;
      draw(0, "", boxes);
      if (tree_height_ <= kMostTall) return;
    }
  }

  // The most probable nodes, with at most so many ends.
  void choose(std::size_t most) {
    drawn_.assign(plan_->nodes.size(), false);
    opened_ = drawn_;
    drawn_[0] = true;
    std::size_t ends = 1;
    while (true) {
      const PlanNode* next = nullptr;
      for (std::size_t i = 0; i < plan_->nodes.size(); ++i) {
        const PlanNode& node = plan_->nodes[i];
        if (!drawn_[i] || opened_[i] || ends_of(node) == 0) continue;
        if (next == nullptr || node.reached > next->reached) next = &node;
      }
      if (next == nullptr || ends - 1 + ends_of(*next) > most) return;
      ends += ends_of(*next) - 1;
      opened_[static_cast<std::size_t>(next - plan_->nodes.data())] = true;
      for (const auto& branch : next->branches) {
        if (branch.to) drawn_[*branch.to] = true;
      }
    }
  }

  void name_tests(std::size_t at) {
    const PlanNode& node = plan_->nodes[at];
    if (!drawn_[at]) return;
    const auto name = [&](std::uint32_t o) {
      if (names_.try_emplace(o, "T" + std::to_string(names_.size() + 1)).second) {
        order_.push_back(o);
      }
    };
    if (node.test) name(*node.test);
    for (const auto& one : node.verify) name(one.observation);
  }

  // ---- text

  std::string cautions() {
    std::vector<std::pair<std::string, std::string>> own;  // caution, tests
    for (const std::uint32_t o : order_) {
      for (const std::string& id : observation(o).cautions) {
        if (is_general_caution(id)) continue;
        const std::string caution = words_.caution(id);
        const auto known = std::find_if(own.begin(), own.end(),
                                        [&](const auto& one) { return one.first == caution; });
        if (known == own.end()) {
          own.emplace_back(caution, names_.at(o));
        } else {
          known->second += " " + names_.at(o);
        }
      }
    }
    std::string text = "<div class=\"cautions\"><ul>\n";
    for (const std::string& caution : words_.cautions(circuit::general_cautions())) {
      text += "<li>" + escaped(caution) + "</li>\n";
      columned_.push_back(length_of(caution));
    }
    for (const auto& [caution, tests] : own) {
      text += "<li>" + tests + ": " + escaped(caution) + "</li>\n";
      columned_.push_back(length_of(caution) + tests.size() + 2);
    }
    return text + "</ul></div>\n";
  }

  std::string head_title() const {
    const std::string id = text_in(case_, "id"), title = text_in(case_, "title");
    const std::string name = id + (id.empty() || title.empty() ? "" : ": ") + title;
    return shortened(name.empty() ? say("card.plan_for", {{"circuit", words_.circuit()}}) : name,
                     90);
  }

  std::string head(const std::string& title) {
    std::string text =
        "<h1>" + escaped(title) + "</h1>\n<p>" + escaped(shortened(words_.circuit(), 90));
    const auto asset = case_.find("asset");
    if (asset != case_.end()) {
      const std::string id = text_in(*asset, "id");
      if (!id.empty())
        text += " &middot; " + escaped(say("note.machine", {{"machine", shortened(id, 40)}}));
    }
    if (plan_ != nullptr) {
      const std::string complaint = shortened(words_.observation(plan_->complaint), 90);
      text += " &middot; " + escaped(say("card.complaint", {{"symptom", complaint}}));
    }
    lines_.push_back({60, 1});
    lines_.push_back({300, 1});
    return text + "</p>\n" + warnings() +
           blanks_of(
               {"card.date", "card.hours", "card.by", "card.load_held", "card.zero_verified"});
  }

  // What is doubtful of what the plan rests on.
  std::string warnings() {
    std::string text;
    if (plan_ == nullptr) return text;
    Messages all = plan_->warnings;
    if (plan_->approximate >= kLeastShown) {
      all.push_back({"warning.approximate"});
      all.back().with("error", MessageValue::Kind::share, plan_->approximate);
    }
    for (const Message& warning : all) text += (text.empty() ? "" : " ") + words_.say(warning);
    if (text.empty()) return text;
    text = shortened(say("note.warnings") + ": " + text, 400);
    lines_.push_back({length_of(text), 1});
    return "<p>" + escaped(text) + "</p>\n";
  }

  std::string blanks_of(std::initializer_list<const char*> ids) const {
    std::string text = "<p>";
    for (const char* id : ids) {
      if (text.size() > 3) text += " ";
      text += escaped(say(id)) + " " + blank();
    }
    return text + "</p>\n";
  }
  static std::string blank() { return "<span class=\"line\">&nbsp;</span>"; }

  std::string outcomes_of(const Observation& of) const {
    std::string text;
    for (const std::string& outcome : of.outcomes) {
      text += (text.empty() ? "☐ " : "  ☐ ") + words_.outcome(outcome);
    }
    return text;
  }

  std::string limits_of(const Observation& of) const {
    std::string text;
    if (of.test_pressure) text += words_.pressure(*of.test_pressure);
    if (!of.test_pressure && of.kind == circuit::ObservationKind::static_hold) {
      text += say("pressure.maker");
    }
    if (!of.limits) return text;
    const circuit::EffectLimits& limits = *of.limits;
    if (!text.empty()) text += "; ";
    if (limits.seconds) {
      return text + say("card.to_half", {{"seconds", words_.number(*limits.seconds, 0)}});
    }
    return text + number(limits.first, 0) + " / " + number(limits.second, 0) + " " +
           unit_of(limits.unit);
  }

  std::string tests() {
    if (order_.empty()) return "";
    std::string text = "<table><tr><th></th>";
    for (const char* id : {"card.test", "card.limits", "card.found", "card.reading"}) {
      text += "<th>" + escaped(say(id)) + "</th>";
    }
    text += "</tr>\n";
    lines_.push_back({20, 1});
    for (const std::uint32_t o : order_) {
      const Observation& of = observation(o);
      const std::string title = shortened(words_.observation(of), 180) +
                                (of.energised ? " (" + say("ui.energised") + ")" : "");
      const std::string limits = limits_of(of), outcomes = outcomes_of(of);
      text += "<tr><td>" + names_.at(o) + "</td><td>" + escaped(title) + "</td><td>" +
              escaped(limits) + "</td><td>" + escaped(outcomes) + "</td><td>" + blank() +
              "</td></tr>\n";
      // The columns take about these shares of the width.
      lines_.push_back({std::max({length_of(title) * 10 / 4, length_of(limits) * 5,
                                  length_of(outcomes) * 10 / 3}),
                        1.25});
    }
    return text + "</table>\n";
  }

  std::string bring() {
    std::vector<std::string> items;
    const diagnosis::BringList list = diagnosis::bring_list(analysis_, order_);
    for (const diagnosis::BringItem& item : list.items) {
      std::string what = std::to_string(item.count) + " " + words_.fitting(item.what);
      for (const std::string* more : {&item.standard, &item.size}) {
        if (!more->empty()) what += " " + *more;
      }
      items.push_back(shortened(what, 60));
    }
    if (list.gauge_pressure > 0) {
      items.push_back(say("card.gauge", {{"pressure", words_.pressure(list.gauge_pressure)}}));
    }
    for (const auto& part : plan_->parts) {
      if (part.probability >= diagnosis::kLeastReached) {
        items.push_back(say("card.part", {{"part", shortened(words_.part(part.component), 60)},
                                          {"share", percent(part.probability)}}));
      }
    }
    if (items.empty()) return "";
    std::string text;
    for (const std::string& item : items) text += (text.empty() ? "" : "; ") + item;
    text = shortened(say("note.bring", {{"list", text}}), 900);
    lines_.push_back({length_of(text), 1});
    return "<p>" + escaped(text) + "</p>\n";
  }

  std::string blanks() {
    lines_.push_back({100, 1.6});
    lines_.push_back({100, 1});
    std::string text = blanks_of({"card.replaced", "card.verified", "card.watch", "card.signed"}) +
                       "<p>" + escaped(say("ui.noFinding"));
    if (!plan_->not_possible.empty()) {
      std::string left;
      for (const auto& one : plan_->not_possible) {
        left += (left.empty() ? "" : "; ") + words_.observation(one.observation) + " (" +
                one.reason + ")";
      }
      left = " " + shortened(say("card.not_possible", {{"list", left}}), 400);
      text += escaped(left);
      lines_.push_back({length_of(left), 1});
    }
    return text + "</p>\n";
  }

  // ---- the tree

  struct Place {
    double x = 0, y = 0;
  };

  std::vector<std::string> words(const PlanNode& node, bool opened, std::size_t letters) const {
    std::vector<std::string> out;
    if (node.test) {
      out = wrapped(names_.at(*node.test) + ": " + words_.observation(*node.test) +
                        (node.contradicts ? " (" + say("card.contradicts") + ")"
                         : node.again     ? " (" + say("card.again") + ")"
                                          : ""),
                    letters, 2);
      double rest = 0;
      for (const auto& branch : node.branches) {
        if (!branch.to) rest += branch.probability;
      }
      std::string more = words_.minutes(node.minutes);
      if (!opened) {
        more += "; " + say("card.ask_again");
      } else if (rest > 1e-9) {
        more += "; " + say("card.else", {{"share", percent(rest)}});
      }
      out.push_back(shortened(more, letters));
      return out;
    }
    if (!node.repair) return {say("card.ask_again")};
    const std::vector<std::uint32_t>& parts = node.repair->components;
    const bool deeper = node.cut == PlanNode::Cut::depth;
    const std::string what = parts.empty()
                                 ? say(deeper ? "card.ask_or_nothing" : "card.replace_nothing")
                                 : say(deeper ? "card.ask_or_replace" : "card.replace",
                                       {{"parts", words_.parts(parts)}});
    for (std::string& line : broken(what, letters)) out.push_back(std::move(line));
    out.push_back(shortened(
        say("card.stays", {{"risk", percent(node.repair->residual_risk)},
                           {"cost", words_.money(node.repair->expected_cost, plan_->currency)}}),
        letters));
    std::string check;
    for (const auto& one : node.verify) {
      check += (check.empty() ? "" : ", ") + names_.at(one.observation);
    }
    if (!check.empty()) {
      out.push_back(shortened(say("card.then_check", {{"tests", check}}), letters));
    }
    return out;
  }

  std::string tree() {
    std::string boxes;
    tree_height_ = 0;
    draw(0, "", boxes);
    const std::string height = number(tree_height_, 1);
    return "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 194 " + height +
           "\" role=\"img\" aria-label=\"" + escaped(say("card.tree")) + "\">\n" + boxes +
           "</svg>\n";
  }

  // Draws a node and what follows it; returns where it is.
  Place draw(std::size_t at, const std::string& outcome, std::string& out) {
    const PlanNode& node = plan_->nodes[at];
    Place here{column_ * static_cast<double>(node.depth), 0};
    std::vector<Place> children;
    if (opened_[at]) {
      for (const auto& branch : node.branches) {
        if (!branch.to) continue;
        const std::string label = words_.outcome(observation(*node.test).outcomes[branch.outcome]) +
                                  ", " + percent(branch.probability);
        children.push_back(draw(*branch.to, label, out));
      }
    }
    const double width = column_ - kGap;
    const auto letters = static_cast<std::size_t>((width - 1.6) / (kType * kLetter));
    std::vector<std::string> lines = words(node, opened_[at], letters);
    if (!outcome.empty()) lines.insert(lines.begin(), shortened(outcome, letters));
    const double tall = static_cast<double>(lines.size()) * kLine + 0.9;
    if (children.empty()) {
      // Not less than a test takes, which may stand before it.
      const double own = std::max(tall, 4 * kLine + 0.9) + kApart;
      here.y = tree_height_ + own / 2;
      tree_height_ += own;
    } else {
      here.y = (children.front().y + children.back().y) / 2;
      tree_height_ = std::max(tree_height_, here.y + (tall + kApart) / 2);
    }
    for (const Place& child : children) {
      out += "<path fill=\"none\" stroke=\"#000\" stroke-width=\".25\" d=\"M" +
             number(here.x + width, 1) + " " + number(here.y, 1) + "L" + number(child.x, 1) + " " +
             number(child.y, 1) + "\"/>\n";
    }
    const double top = here.y - tall / 2;
    out += "<rect x=\"" + number(here.x, 1) + "\" y=\"" + number(top, 1) + "\" width=\"" +
           number(width, 1) + "\" height=\"" + number(tall, 1) + "\" rx=\".8\" fill=\"" +
           (node.repair ? "#eee" : "#fff") + "\" stroke=\"#000\" stroke-width=\".25\"/>\n";
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const bool label = i == 0 && !outcome.empty();
      out += "<text x=\"" + number(here.x + 0.8, 1) + "\" y=\"" +
             number(top + kLine * static_cast<double>(i + 1) - 0.3, 1) +
             "\" style=\"font-size:" + number(kType, 1) + "px" +
             (label ? ";font-weight:bold" : "") + "\">" + escaped(lines[i]) + "</text>\n";
    }
    return here;
  }

  // ---- what fits

  // The largest type with which everything is on one page.
  double size_for() const {
    for (const double size : kSizes) {
      const double letter = size * kLetter * 1.08, line = size * kLeading;
      const auto lines = [&](std::size_t letters, double width) {
        return std::ceil(static_cast<double>(letters) * letter / width);
      };
      double height = tree_height_ + 6 * line, columned = 0;
      for (const std::size_t letters : columned_) columned += lines(letters, kWidth / 2 - 8);
      height += (columned / 2 + 2) * line;
      for (const auto& [letters, leading] : lines_)
        height += lines(letters, kWidth) * line * leading;
      if (height <= kHeight) return size;
    }
    return kSizes.back();
  }

  const Words& words_;
  const Analysis& analysis_;
  const Json& case_;
  const Plan* plan_;
  std::vector<bool> drawn_, opened_;
  std::map<std::uint32_t, std::string> names_;  // of tests, "T1"
  std::vector<std::uint32_t> order_;
  double column_ = 0, tree_height_ = 0;
  // For the size of the type: letters of each text, and how much further apart its lines are.
  std::vector<std::size_t> columned_;
  std::vector<std::pair<std::size_t, double>> lines_;
};

}  // namespace

std::string write_plan_card(const Words& words, const Json& case_document, const Plan* plan) {
  return Card(words, case_document, plan).write();
}

}  // namespace faultodds::documents
