using System;
using System.Collections.Generic;
using System.Globalization;
using System.IO;
using System.Linq;
using Faultodds;

/// <summary>The shared circuits and tables, and JSON text of values.</summary>
internal static class Documents
{
    internal static readonly string Root = Environment.GetEnvironmentVariable("FAULTODDS_SOURCE");
    internal static readonly string Lift = Read("tests/bindings/lift.json");
    internal static readonly string Ram = Read("tests/bindings/ram.json");
    internal static readonly string Drifts = Case("{\"observation\":\"drift/cylinder/retract\",\"outcome\":\"fast\"}");

    internal const string Closed = "{\"format\":\"faultodds-closing/1\",\"work_order\":\"7\",\"closed\":\"2024-03-06\","
        + "\"found\":[{\"component\":\"cap_relief\",\"mode\":\"seat_leak\",\"grade\":\"failed\"}],\"sound\":[\"cylinder\"]}";

    internal static string Case(params string[] entries)
    {
        return "{\"format\":\"faultodds-case/1\",\"circuit\":\"lift\",\"detail\":\"full\",\"observations\":["
            + string.Join(",", entries) + "]}";
    }

    internal static string Read(string path)
    {
        return File.ReadAllText(Path.Combine(Root, path));
    }

    internal static string Write(object value)
    {
        var members = value as Dictionary<string, object>;
        if (members != null)
            return "{" + string.Join(",", members.Select(m => Json.Quote(m.Key) + ":" + Write(m.Value))) + "}";
        var items = value as List<object>;
        if (items != null) return "[" + string.Join(",", items.Select(Write)) + "]";
        if (value is string) return Json.Quote((string)value);
        if (value is bool) return (bool)value ? "true" : "false";
        return value == null ? "null" : ((double)value).ToString("R", CultureInfo.InvariantCulture);
    }
}
