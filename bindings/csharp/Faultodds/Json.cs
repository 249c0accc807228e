using System;
using System.Collections.Generic;
using System.Globalization;
using System.Text;

namespace Faultodds
{
    /// <summary>Reads the library's answers and quotes text for it; it trusts its input and is no JSON
    /// library. Objects are dictionaries, lists are lists, numbers doubles.</summary>
    internal sealed class Json
    {
        private readonly string text;
        private int at;

        private Json(string text)
        {
            this.text = text;
        }

        internal static object Parse(string text)
        {
            var json = new Json(text);
            object value = json.Value();
            json.Space();
            if (json.at != text.Length) throw json.Wrong("the end");
            return value;
        }

        internal static string Quote(string text)
        {
            var quoted = new StringBuilder("\"");
            foreach (char c in text)
            {
                if (c == '"' || c == '\\') quoted.Append('\\').Append(c);
                else if (c < ' ') quoted.Append("\\u").Append(((int)c).ToString("x4", CultureInfo.InvariantCulture));
                else quoted.Append(c);
            }
            return quoted.Append('"').ToString();
        }

        internal static Dictionary<string, object> Object(object value)
        {
            return (Dictionary<string, object>)value;
        }

        internal static List<object> List(object value)
        {
            return (List<object>)value;
        }

        private object Value()
        {
            Space();
            switch (Peek())
            {
                case '{': return Members();
                case '[': return Items();
                case '"': return String();
                case 't': return Word("true", true);
                case 'f': return Word("false", false);
                case 'n': return Word("null", null);
                default: return Number();
            }
        }

        private Dictionary<string, object> Members()
        {
            var members = new Dictionary<string, object>();
            ++at;
            Space();
            if (Skip('}')) return members;
            do
            {
                Space();
                string key = String();
                Space();
                if (!Skip(':')) throw Wrong("':'");
                members[key] = Value();
                Space();
            } while (Skip(','));
            if (!Skip('}')) throw Wrong("',' or '}'");
            return members;
        }

        private List<object> Items()
        {
            var items = new List<object>();
            ++at;
            Space();
            if (Skip(']')) return items;
            do
            {
                items.Add(Value());
                Space();
            } while (Skip(','));
            if (!Skip(']')) throw Wrong("',' or ']'");
            return items;
        }

        private string String()
        {
            if (!Skip('"')) throw Wrong("a string");
            var value = new StringBuilder();
            while (Peek() != '"')
            {
                char c = text[at++];
                value.Append(c == '\\' ? Escaped() : c);
            }
            ++at;
            return value.ToString();
        }

        private char Escaped()
        {
            char c = Peek();
            ++at;
            switch (c)
            {
                case 'n': return '\n';
                case 't': return '\t';
                case 'r': return '\r';
                case 'b': return '\b';
                case 'f': return '\f';
                case 'u':
                    at += 4;
                    return (char)int.Parse(
                        text.Substring(at - 4, 4), NumberStyles.HexNumber, CultureInfo.InvariantCulture);
                default: return c;
            }
        }

        private object Number()
        {
            int from = at;
            while (at < text.Length && "+-.eE0123456789".IndexOf(text[at]) >= 0) ++at;
            if (from == at) throw Wrong("a value");
            return double.Parse(text.Substring(from, at - from), NumberStyles.Float, CultureInfo.InvariantCulture);
        }

        private object Word(string word, object value)
        {
            if (string.CompareOrdinal(text, at, word, 0, word.Length) != 0) throw Wrong(word);
            at += word.Length;
            return value;
        }

        private void Space()
        {
            while (at < text.Length && text[at] <= ' ') ++at;
        }

        private char Peek()
        {
            if (at >= text.Length) throw Wrong("more");
            return text[at];
        }

        private bool Skip(char c)
        {
            if (at >= text.Length || text[at] != c) return false;
            ++at;
            return true;
        }

        private FormatException Wrong(string expected)
        {
            return new FormatException("JSON: expected " + expected + " at character " + at);
        }
    }
}
