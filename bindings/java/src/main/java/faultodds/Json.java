package faultodds;

import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;

/**
 * Reads the library's answers and quotes text for it; it trusts its input and is no JSON library.
 * Objects are maps in the order of the text, numbers doubles.
 */
final class Json {
  private final String text;
  private int at;

  private Json(String text) {
    this.text = text;
  }

  static Object parse(String text) {
    Json json = new Json(text);
    Object value = json.value();
    json.space();
    if (json.at != text.length()) throw json.wrong("the end");
    return value;
  }

  static String quote(String text) {
    StringBuilder quoted = new StringBuilder(text.length() + 2).append('"');
    for (int i = 0; i < text.length(); ++i) {
      char c = text.charAt(i);
      if (c == '"' || c == '\\') {
        quoted.append('\\').append(c);
      } else if (c < ' ') {
        quoted.append(String.format(Locale.ROOT, "\\u%04x", (int) c));
      } else {
        quoted.append(c);
      }
    }
    return quoted.append('"').toString();
  }

  @SuppressWarnings("unchecked")
  static Map<String, Object> object(Object value) {
    return (Map<String, Object>) value;
  }

  @SuppressWarnings("unchecked")
  static List<Object> list(Object value) {
    return (List<Object>) value;
  }

  private Object value() {
    space();
    switch (peek()) {
      case '{':
        return object();
      case '[':
        return list();
      case '"':
        return string();
      case 't':
        return word("true", Boolean.TRUE);
      case 'f':
        return word("false", Boolean.FALSE);
      case 'n':
        return word("null", null);
      default:
        return number();
    }
  }

  private Map<String, Object> object() {
    Map<String, Object> members = new LinkedHashMap<>();
    ++at;
    space();
    if (skip('}')) return members;
    do {
      space();
      String key = string();
      space();
      if (!skip(':')) throw wrong("':'");
      members.put(key, value());
      space();
    } while (skip(','));
    if (!skip('}')) throw wrong("',' or '}'");
    return members;
  }

  private List<Object> list() {
    List<Object> items = new ArrayList<>();
    ++at;
    space();
    if (skip(']')) return items;
    do {
      items.add(value());
      space();
    } while (skip(','));
    if (!skip(']')) throw wrong("',' or ']'");
    return items;
  }

  private String string() {
    if (!skip('"')) throw wrong("a string");
    StringBuilder value = new StringBuilder();
    while (peek() != '"') {
      char c = text.charAt(at++);
      value.append(c == '\\' ? escaped() : c);
    }
    ++at;
    return value.toString();
  }

  private char escaped() {
    char c = peek();
    ++at;
    switch (c) {
      case 'n':
        return '\n';
      case 't':
        return '\t';
      case 'r':
        return '\r';
      case 'b':
        return '\b';
      case 'f':
        return '\f';
      case 'u':
        at += 4;
        return (char) Integer.parseInt(text.substring(at - 4, at), 16);
      default:
        return c;
    }
  }

  private Double number() {
    int from = at;
    while (at < text.length() && "+-.eE0123456789".indexOf(text.charAt(at)) >= 0) ++at;
    if (from == at) throw wrong("a value");
    return Double.valueOf(text.substring(from, at));
  }

  private Object word(String word, Object value) {
    if (!text.startsWith(word, at)) throw wrong(word);
    at += word.length();
    return value;
  }

  private void space() {
    while (at < text.length() && text.charAt(at) <= ' ') ++at;
  }

  private char peek() {
    if (at >= text.length()) throw wrong("more");
    return text.charAt(at);
  }

  private boolean skip(char c) {
    if (at >= text.length() || text.charAt(at) != c) return false;
    ++at;
    return true;
  }

  private IllegalArgumentException wrong(String expected) {
    return new IllegalArgumentException("JSON: expected " + expected + " at character " + at);
  }
}
