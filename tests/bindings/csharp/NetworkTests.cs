using System;
using System.Collections.Generic;
using System.Linq;
using Faultodds;

/// <summary>Networks, against tests/vectors/networks.json.</summary>
public sealed class Networks
{
    private static readonly Dictionary<string, object> Table =
        Json.Object(Json.Parse(Documents.Read("tests/vectors/networks.json")));

    private static readonly double Tolerance = (double)Table["tolerance"];

    private static IEnumerable<Dictionary<string, object>> Objects(object list)
    {
        return Json.List(list).Select(Json.Object);
    }

    private static string TextOf(Dictionary<string, object> network)
    {
        return string.Join("\n", Json.List(network["text"]).Cast<string>());
    }

    private static Network Load(Dictionary<string, object> network)
    {
        bool bif = (string)network["format"] == "bif";
        return new Network(TextOf(network), bif ? NetworkFormat.Bif : NetworkFormat.XmlBif);
    }

    private static double[] Numbers(object list)
    {
        return Json.List(list).Cast<double>().ToArray();
    }

    private static NetworkEvidence Evidence(Dictionary<string, object> query)
    {
        var evidence = new NetworkEvidence();
        foreach (var known in Json.Object(query["evidence"]))
        {
            if (known.Value is string) evidence.Is(known.Key, (string)known.Value);
            else evidence.Like(known.Key, Numbers(known.Value));
        }
        return evidence;
    }

    private static void Near(double expected, double actual, string where)
    {
        Check.That(Math.Abs(expected - actual) <= Tolerance, where + ": expected " + expected + ", got " + actual);
    }

    [Behaviour]
    public void EveryQueryOfTheTableIsAnsweredAsExpected()
    {
        int answered = 0;
        foreach (var entry in Objects(Table["networks"]))
        {
            using (Network network = Load(entry))
            {
                Check.That(network.Variables.SequenceEqual(Json.List(entry["variables"]).Cast<string>()), "variables");
                foreach (var query in Objects(entry["queries"]))
                {
                    var name = (string)query["name"];
                    NetworkAnswer answer = network.Query(Evidence(query));
                    Near((double)query["evidence_probability"], Math.Exp(answer.LogEvidence), name);
                    Check.Same(network.Variables.Count, answer.Posteriors.Count, name);
                    if (!query.ContainsKey("posteriors")) continue;
                    foreach (var expected in Json.Object(query["posteriors"]))
                    {
                        double[] wanted = Numbers(expected.Value), got = answer.Posteriors[expected.Key];
                        Check.Same(network.States(expected.Key).Count, got.Length, name);
                        for (int state = 0; state < wanted.Length; ++state) Near(wanted[state], got[state], name);
                        ++answered;
                    }
                }
            }
        }
        Check.That(answered > 8, "posteriors were compared");
    }

    [Behaviour]
    public void ImpossibleAndUnknownEvidenceIsRefusedWithItsName()
    {
        int refused = 0;
        foreach (var entry in Objects(Table["networks"]))
        {
            using (Network network = Load(entry))
            {
                foreach (var refusal in Objects(entry["refusals"]))
                {
                    var told = Check.Throws<FaultoddsException>(
                        () => network.Query(Evidence(refusal)), (string)refusal["name"]);
                    Check.Same(refusal["code"], told.Code, "code");
                    Check.That(told.Sentence.Contains((string)refusal["message"]), told.Sentence);
                    ++refused;
                }
            }
        }
        Check.That(refused > 3, "refusals were found");
    }

    [Behaviour]
    public void ATextThatIsNoNetworkIsRefusedWithItsLine()
    {
        var told = Check.Throws<FaultoddsException>(() => new Network("network x {\n}\nvariable"), "no network");
        Check.Same("invalid_document", told.Code, "code");
        Check.That(told.Sentence.StartsWith("line 3: ", StringComparison.Ordinal), told.Sentence);
        string bif = TextOf(Objects(Table["networks"]).First());
        told = Check.Throws<FaultoddsException>(() => new Network(bif, NetworkFormat.Bif, 1), "budget");
        Check.Same("limit_exceeded", told.Code, "code");
    }

    [Behaviour]
    public void ADisposedNetworkRefusesAndMayBeDisposedOfAgain()
    {
        Network network = Load(Objects(Table["networks"]).First());
        network.Dispose();
        network.Dispose();
        Check.Throws<ObjectDisposedException>(() => network.Query(new NetworkEvidence()), "disposed");
    }
}
