// The reader of XMLBIF texts: what good ones become, how bad ones are refused, and that nothing but
// the text is read.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "capi/documents/xmlbif_reader.h"
#include "core/error.h"

namespace xmlbif_test {

using faultodds::Code;
using faultodds::Error;
using faultodds::documents::NetworkLimits;
using faultodds::documents::read_xmlbif;
using faultodds::network::Network;
using faultodds::network::Var;

namespace {

const std::string kOut =
    "<VARIABLE TYPE=\"nature\"><NAME>out</NAME><OUTCOME>yes</OUTCOME><OUTCOME>no</OUTCOME>"
    "</VARIABLE>\n";
const std::string kLight =
    "<VARIABLE><NAME>light</NAME><OUTCOME>off</OUTCOME><OUTCOME>dim</OUTCOME>"
    "<OUTCOME>bright</OUTCOME></VARIABLE>\n";
const std::string kOutTable = "<DEFINITION><FOR>out</FOR><TABLE>0.25 0.75</TABLE></DEFINITION>\n";

// `inside` begins on line 2.
std::string document(const std::string& inside) {
  return "<BIF VERSION=\"0.3\"><NETWORK><NAME>n</NAME>\n" + inside + "</NETWORK></BIF>\n";
}

std::string refusal(const std::string& text, const NetworkLimits& limits = {},
                    Code code = Code::invalid_document) {
  try {
    read_xmlbif(text, limits);
  } catch (const Error& error) {
    CHECK(error.code() == code);
    CHECK(error.pointer().empty());
    return error.what();
  }
  FAIL("accepted: " << text);
  return {};
}

// What is refused of two good variables, on lines 2 and 3, and `rest` from line 4.
std::string refused(const std::string& rest) { return refusal(document(kOut + kLight + rest)); }

std::string light_given_out(const std::string& table) {
  return "<DEFINITION>\n<FOR>light</FOR>\n<GIVEN>out</GIVEN>\n<TABLE>" + table +
         "</TABLE>\n</DEFINITION>\n";
}

}  // namespace

TEST_CASE("XMLBIF: a table lists the given variables in order and the variable itself fastest") {
  const Network net =
      read_xmlbif(document(kOut + kLight +
                           "<VARIABLE><NAME>bark</NAME><OUTCOME>a</OUTCOME><OUTCOME>b</OUTCOME>"
                           "</VARIABLE>\n" +
                           kOutTable + light_given_out("0.5 0.25 0.25\n0.1 0.2 0.7") +
                           "<DEFINITION><FOR>bark</FOR><GIVEN>light</GIVEN><GIVEN>out</GIVEN>"
                           "<TABLE>.1 .9 .2 .8 .3 .7 .4 .6 .45 .55 1 0</TABLE></DEFINITION>"));
  REQUIRE(net.size() == 3);
  CHECK(net.name(1) == "light");
  CHECK(net.state_names(1) == std::vector<std::string>{"off", "dim", "bright"});
  CHECK(net.table(0).table == std::vector<double>{0.25, 0.75});
  CHECK(net.table(1).scope == std::vector<Var>{0, 1});
  CHECK(net.table(1).table == std::vector<double>{0.5, 0.25, 0.25, 0.1, 0.2, 0.7});
  CHECK(net.table(2).scope == std::vector<Var>{1, 0, 2});
  // light = dim, out = no
  CHECK(net.table(2).table[6] == Approx(0.4));
}

TEST_CASE("XMLBIF: the document type, comments, properties and space around names are let be") {
  const Network net = read_xmlbif(
      "<?xml version=\"1.0\" encoding=\"US-ASCII\"?>\n<!-- a comment -->\n"
      "<!DOCTYPE BIF [\n<!ELEMENT BIF ( NETWORK )*>\n<!ATTLIST BIF VERSION CDATA #REQUIRED>\n"
      "<!ELEMENT TABLE (#PCDATA)>\n]>\n"
      "<BIF VERSION=\"0.3\" xmlns=\"http://example.org/x\"><NETWORK><NAME>n</NAME>\n"
      "<PROPERTY>author me</PROPERTY>\n"
      "<VARIABLE TYPE=\"nature\"><NAME>\n two words </NAME><OUTCOME>&lt;5 &amp; up</OUTCOME>"
      "<OUTCOME>&#x41;</OUTCOME><PROPERTY>position = (1, 2)</PROPERTY></VARIABLE>\n"
      "<DEFINITION><PROPERTY/><FOR>two words</FOR><TABLE><!-- first -->0.5\n<!-- second\n -->0.5"
      "</TABLE></DEFINITION></NETWORK></BIF>\n");
  CHECK(net.name(0) == "two words");
  CHECK(net.state_names(0) == std::vector<std::string>{"<5 & up", "A"});
}

TEST_CASE("XMLBIF: definitions may come before the variables they name") {
  const Network net = read_xmlbif(
      document(light_given_out("0.5 0.25 0.25 0.1 0.2 0.7") + kOutTable + kLight + kOut));
  CHECK(net.name(0) == "light");
  CHECK(net.table(0).scope == std::vector<Var>{1, 0});
}

TEST_CASE("XMLBIF: another encoding that it declares is read, names come out as UTF-8") {
  const Network net =
      read_xmlbif("<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>" +
                  document("<VARIABLE><NAME>\xE9tat</NAME><OUTCOME>a</OUTCOME></VARIABLE>"
                           "<DEFINITION><FOR>\xE9tat</FOR><TABLE>1</TABLE></DEFINITION>"));
  CHECK(net.name(0) == "\xC3\xA9tat");
}

TEST_CASE("XMLBIF: a text that is not well-formed is refused with the line") {
  CHECK(refusal("") == "line 1: not well-formed XML: no element found");
  CHECK(refusal("network {}") == "line 1: not well-formed XML: syntax error");
  CHECK(refusal("<BIF>\n<NETWORK>\n</BIF>") == "line 3: not well-formed XML: mismatched tag");
  CHECK(refusal("<BIF>\n<NETWORK>\n") == "line 3: not well-formed XML: no element found");
  CHECK(refusal("<BIF>\n&nbsp;</BIF>") == "line 2: not well-formed XML: undefined entity");
  CHECK(refusal("<?xml version=\"1.0\" encoding=\"no-such\"?>\n<BIF/>") ==
        "line 1: not well-formed XML: unknown encoding");
  CHECK_THAT(refusal(std::string("<BIF>\n\0</BIF>", 13)),
             Catch::Contains("line 2: not well-formed"));
  CHECK_THAT(refusal("<BIF>\n\xFF</BIF>"), Catch::Contains("line 2: not well-formed"));
}

TEST_CASE("XMLBIF: elements out of place are refused with what was expected") {
  CHECK(refusal("<html/>") == "line 1: <html>; expected <BIF>");
  CHECK(refusal("<BIF/>") == "line 1: no <NETWORK>; expected one");
  CHECK(refusal("<BIF VERSION=\"0.2\"/>") == "line 1: VERSION `0.2`; expected `0.3`");
  CHECK(refusal("<BIF><NETWORK/>\n<NETWORK/></BIF>") == "line 2: a second <NETWORK>; expected one");
  CHECK(refusal("<BIF><NETWORK/></BIF>") ==
        "line 1: no variable is declared; expected at least one");
  CHECK(refused("<VARIABLE>\n<VALUE>") ==
        "line 5: <VALUE> in <VARIABLE>; expected <NAME>, "
        "<PROPERTY>, <OUTCOME>");
  CHECK(refused("<FOR>") ==
        "line 4: <FOR> in <NETWORK>; expected <NAME>, <PROPERTY>, <VARIABLE>, <DEFINITION>");
  CHECK(refused("<VARIABLE><NAME><b>") == "line 4: <b> in <NAME>; expected text only");
  CHECK(refused("\nstray text") == "line 5: text `stray text` in <NETWORK>; expected elements");
}

TEST_CASE("XMLBIF: a bad variable is refused by name") {
  CHECK(refused("<VARIABLE TYPE=\"utility\">") ==
        "line 4: TYPE `utility`; expected `nature`: only variables of chance are supported");
  CHECK(refused("<VARIABLE>\n<OUTCOME>a</OUTCOME></VARIABLE>") ==
        "line 4: a variable without a name");
  CHECK(refused("<VARIABLE><NAME>x</NAME>\n</VARIABLE>") ==
        "line 4: variable `x` has no states; expected 1 to 65535");
  CHECK(refused("<VARIABLE><NAME>x</NAME>\n<NAME>y</NAME>") ==
        "line 5: a second <NAME> of one variable");
  CHECK(refused("<VARIABLE>\n<NAME> </NAME>") == "line 5: <NAME> is empty; expected a name");
  CHECK(refused("<VARIABLE><NAME>x</NAME><OUTCOME>a</OUTCOME><OUTCOME>a</OUTCOME></VARIABLE>") ==
        "line 4: variable `x` has the state `a` twice");
  CHECK(refused(kOut) == "line 4: variable `out` is declared twice");
}

TEST_CASE("XMLBIF: a bad definition is refused by the name of its variable") {
  CHECK(refused("<DEFINITION>\n</DEFINITION>") ==
        "line 4: a definition with 0 <FOR>; expected one");
  CHECK(refused("<DEFINITION><FOR>out</FOR><FOR>light</FOR></DEFINITION>") ==
        "line 4: a definition with 2 <FOR>; expected one");
  CHECK(refused("<DEFINITION>\n<FOR>lamp</FOR></DEFINITION>") ==
        "line 5: variable `lamp` is not declared");
  CHECK(refused("<DEFINITION><FOR>light</FOR>\n<GIVEN>lamp</GIVEN></DEFINITION>") ==
        "line 5: variable `lamp` is not declared");
  CHECK(refused("<DEFINITION><FOR>out</FOR></DEFINITION>") ==
        "line 4: the definition of `out` has no <TABLE>");
  CHECK(refused("<DEFINITION><FOR>out</FOR><TABLE>1 0</TABLE>\n<TABLE>1 0</TABLE></DEFINITION>") ==
        "line 5: a second <TABLE> of one definition");
  CHECK(refused("<DEFINITION><FOR>out</FOR><GIVEN>out</GIVEN><TABLE>1</TABLE></DEFINITION>") ==
        "line 4: variable `out` is given itself");
  CHECK(refused("<DEFINITION><FOR>light</FOR><GIVEN>out</GIVEN><GIVEN>out</GIVEN></DEFINITION>") ==
        "line 4: the table of `light` is given `out` twice");
  CHECK(refused(kOutTable + kOutTable + light_given_out("1 0 0 1 0 0")) ==
        "line 5: a second table for variable `out`");
  CHECK(refused(light_given_out("1 0 0 1 0 0")) == "line 10: variable `out` has no table");
}

TEST_CASE("XMLBIF: a bad table is refused on the line of the number") {
  CHECK(refused(light_given_out("1 0 0 1 0")) ==
        "line 7: the table of `light` has 5 numbers; expected 6");
  CHECK(refused(light_given_out("1 0 0 1 0 0 0")) ==
        "line 7: the table of `light` has 7 numbers; expected 6");
  CHECK(refused(light_given_out("1 0 0\n1 x 0")) == "line 8: `x`; expected a number from 0 to 1");
  CHECK(refused(light_given_out("1 0 0\n<!--\n\n-->1 0 -1")) ==
        "line 10: `-1`; expected a number from 0 to 1");
  CHECK(refused(light_given_out("1, 0, 0, 1, 0, 0")) ==
        "line 7: `1,`; expected a number from 0 to 1");
  CHECK(refused(light_given_out("1 0 0 0.5 0.4 0")) ==
        "line 7: row 1 of the table of 'light' sums to 0.900000; expected 1");
}

TEST_CASE("XMLBIF: a cycle is refused") {
  CHECK(refused(light_given_out("1 0 0 1 0 0") +
                "<DEFINITION><FOR>out</FOR><GIVEN>light</GIVEN><TABLE>1 0 1 0 1 0</TABLE>"
                "</DEFINITION>") == "line 9: 'out' and 'light' would form a cycle");
}

TEST_CASE("XMLBIF: entities are refused, whether they expand or point outside") {
  CHECK(
      refusal(
          "<!DOCTYPE BIF [\n<!ENTITY a \"1\">\n<!ENTITY b \"&a;&a;&a;&a;\">\n]>\n<BIF>&b;</BIF>") ==
      "line 2: a declaration of the entity `a`; expected none: entities are refused");
  CHECK(refusal("<!DOCTYPE BIF [<!ENTITY a SYSTEM \"file:///etc/passwd\">]><BIF>&a;</BIF>") ==
        "line 1: a declaration of the entity `a`; expected none: entities are refused");
  CHECK(refusal("<!DOCTYPE BIF [<!ENTITY % a SYSTEM \"http://example.org/a.dtd\"> %a;]><BIF/>") ==
        "line 1: a declaration of the entity `a`; expected none: entities are refused");
  CHECK(refusal("<!DOCTYPE BIF SYSTEM \"bif.dtd\">\n<BIF>&a;</BIF>") ==
        "line 1: an external document type `bif.dtd`; expected none, or one declared inside the "
        "text");
  CHECK(refusal("<!DOCTYPE BIF PUBLIC \"-//x//y\" \"bif.dtd\"><BIF/>") ==
        "line 1: an external document type `bif.dtd`; expected none, or one declared inside the "
        "text");
}

TEST_CASE("XMLBIF: depth and size are bounded") {
  std::string deep;
  for (int i = 0; i < 100000; ++i) deep += "<BIF>";
  CHECK(refusal(deep) == "line 1: <BIF> in <BIF>; expected <NETWORK>");
  NetworkLimits limits;
  limits.bytes = 20;
  CHECK(refusal(document(kOut), limits, Code::limit_exceeded) ==
        "the network has " + std::to_string(document(kOut).size()) + " bytes; the limit is 20");
  limits = {};
  limits.numbers = 1;
  CHECK(refusal(document(kOut + kOutTable), limits, Code::limit_exceeded) ==
        "line 3: with the table of `out` the tables of the network have more than 1 numbers, "
        "8 bytes");
}

TEST_CASE("XMLBIF: a text longer than one piece of the parser is read whole") {
  const std::string padding(3 << 20, ' ');
  const Network net =
      read_xmlbif(document(kOut + "<PROPERTY>" + padding + "</PROPERTY>" + kOutTable));
  CHECK(net.table(0).table == std::vector<double>{0.25, 0.75});
}

TEST_CASE("XMLBIF: a tag or comment that is too long is refused as such, text is not") {
  const auto with = [](const std::string& more) { return document(more + kOut + kOutTable); };
  const std::string much(200'000, 'x');
  for (const std::string& more :
       {"<!--" + much + "-->", "<PROPERTY a=\"" + much + "\"></PROPERTY>", "<" + much + "/>"}) {
    CHECK(refusal(with(more), {}, Code::limit_exceeded) ==
          "line 2: a tag, comment or declaration of more than 65536 bytes");
  }
  CHECK(read_xmlbif(with("<PROPERTY>" + much + "</PROPERTY>"), {}).size() == 1);
  CHECK(read_xmlbif(with("<PROPERTY><![CDATA[" + much + "]]></PROPERTY>"), {}).size() == 1);
  CHECK(read_xmlbif(with("<!--" + much.substr(0, 60'000) + "-->"), {}).size() == 1);
}

}  // namespace xmlbif_test
