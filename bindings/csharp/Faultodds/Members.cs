using System;
using System.Collections.Generic;
using System.Linq;

namespace Faultodds
{
    /// <summary>The members of a JSON object, by type. What is not there or null is null, or empty.</summary>
    internal sealed class Members
    {
        private readonly Dictionary<string, object> members;

        internal Members(object json)
        {
            members = Json.Object(json);
        }

        /// <summary>A document in which all that refers to cautions by id has their texts, those for all work
        /// first.</summary>
        internal static Members OfDocument(string json)
        {
            var document = Json.Object(Json.Parse(json));
            object further;
            if (document.TryGetValue("further_cautions", out further))
            {
                SpellOut(document, Json.List(document["cautions"]), Json.Object(further));
            }
            return new Members(document);
        }

        private static void SpellOut(object value, List<object> general, Dictionary<string, object> further)
        {
            var items = value as List<object>;
            if (items != null)
            {
                foreach (object item in items) SpellOut(item, general, further);
            }
            var members = value as Dictionary<string, object>;
            if (members == null) return;
            foreach (object member in members.Values) SpellOut(member, general, further);
            if (!members.ContainsKey("caution_ids") || members.ContainsKey("cautions")) return;
            members["cautions"] =
                general.Concat(Json.List(members["caution_ids"]).Select(id => further[(string)id])).ToList();
        }

        private object Value(string key)
        {
            object value;
            return members.TryGetValue(key, out value) ? value : null;
        }

        internal string Text(string key)
        {
            return Value(key) as string;
        }

        internal bool Flag(string key)
        {
            return (bool?)Value(key) ?? false;
        }

        internal double Number(string key)
        {
            return (double)members[key];
        }

        internal double? NumberIfAny(string key)
        {
            return (double?)Value(key);
        }

        internal int Count(string key)
        {
            return (int)Number(key);
        }

        internal int? CountIfAny(string key)
        {
            return (int?)NumberIfAny(key);
        }

        internal Members Object(string key)
        {
            return new Members(members[key]);
        }

        // Null also where the member is a name in place of an object.
        internal T Maybe<T>(string key, Func<Members, T> read) where T : class
        {
            object value = Value(key);
            return value is Dictionary<string, object> ? read(new Members(value)) : null;
        }

        internal IReadOnlyList<T> Each<T>(string key, Func<Members, T> read)
        {
            return Items(key).Select(item => read(new Members(item))).ToList().AsReadOnly();
        }

        internal IReadOnlyList<string> Texts(string key)
        {
            return Items(key).Cast<string>().ToList().AsReadOnly();
        }

        internal Grades Grades(string key)
        {
            return new Grades(Items(key).Cast<double>().ToList());
        }

        internal IReadOnlyList<IReadOnlyList<string>> Groups(string key)
        {
            return Items(key)
                .Select(group => (IReadOnlyList<string>)Json.List(group).Cast<string>().ToList().AsReadOnly())
                .ToList()
                .AsReadOnly();
        }

        internal IReadOnlyDictionary<string, T> ByName<T>(string key)
        {
            object value = Value(key);
            return (value == null ? new Dictionary<string, object>() : Json.Object(value))
                .ToDictionary(pair => pair.Key, pair => (T)pair.Value);
        }

        private List<object> Items(string key)
        {
            object value = Value(key);
            return value == null ? new List<object>() : Json.List(value);
        }
    }
}
