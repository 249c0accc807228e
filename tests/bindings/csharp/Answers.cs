using System;
using System.Collections.Generic;
using System.Globalization;
using System.IO;
using System.Linq;
using System.Runtime.InteropServices;
using System.Text;
using Faultodds;

/// <summary>Prints what the library answers to the shared vectors, for in_locales to compare.</summary>
internal static class Answers
{
    private const int LcAll = 6;

    [DllImport("libc")]
    private static extern IntPtr setlocale(int category, string name);

    private static string Told(Func<string> call)
    {
        try
        {
            return call();
        }
        catch (FaultoddsException refused)
        {
            return refused.Code + " " + refused.Pointer + " " + refused.Sentence + " " + refused.Message;
        }
    }

    private static string Printed(Assessment answer)
    {
        return answer.Json + " " + (answer.LogEvidence ?? double.NaN).ToString("R", CultureInfo.InvariantCulture);
    }

    // The culture, and the locale of C, which the runtime may have set or not.
    private static void CheckLocale()
    {
        string name = Environment.GetEnvironmentVariable("FAULTODDS_LOCALE");
        string set = Marshal.PtrToStringAnsi(setlocale(LcAll, ""));
        string separator = CultureInfo.CurrentCulture.NumberFormat.NumberDecimalSeparator;
        Check.Same(name, set, "the locale of C");
        Check.Same(Environment.GetEnvironmentVariable("FAULTODDS_DECIMAL"), separator, "the culture's decimal separator");
    }

    internal static void Print()
    {
        CheckLocale();
        using (var all = new StreamWriter(Console.OpenStandardOutput(), new UTF8Encoding(false)))
        {
            var table = Json.Object(Json.Parse(Documents.Read("tests/vectors/assessments.json")));
            var models = new Dictionary<string, Model>();
            foreach (var vector in Json.List(table["vectors"]).Select(Json.Object))
            {
                string circuit = Documents.Read((string)vector["circuit"]), theCase = Documents.Write(vector["case"]);
                Model model;
                if (models.TryGetValue(circuit, out model))
                {
                    all.WriteLine(Told(() => Printed(model.Assess(theCase))));
                    continue;
                }
                models[circuit] = model = new Model(circuit);
                all.WriteLine(Told(() => Printed(Engine.Assess(circuit, theCase))));
                all.WriteLine(Told(() => model.Note(theCase)));
            }
            foreach (var model in models.Values) model.Dispose();
            string rows = "work_order,closed,asset_class,component,finding,grade,hours\n" + string.Concat(
                Enumerable.Range(0, 30).Select(i => string.Format(CultureInfo.InvariantCulture,
                    "W-{0},2024-03-05,loader,port_relief,{1},{2}\n", i, i % 3 == 0 ? "seat_leak,failed" : "none,",
                    100 + 13.5 * i)));
            all.WriteLine(Told(() => Priors.Learn(Records.OfText(rows), new LearnOptions("depot")).Pack));
            all.WriteLine(Json.Quote("\u0001\u001f"));
        }
    }
}
