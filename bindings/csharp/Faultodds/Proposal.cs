using System;
using System.Collections.Generic;
using System.Linq;

namespace Faultodds
{
    /// <summary>What the words of a complaint may mean. It is no evidence before a person confirms it.</summary>
    public sealed class Proposal
    {
        private Proposal(Dictionary<string, object> one)
        {
            Observation = (string)one["observation"];
            Outcome = (string)one["outcome"];
            Score = Convert.ToDouble(one["score"]);
            Because = Json.List(one["because"]).Cast<string>().ToList().AsReadOnly();
        }

        /// <summary>Id of a symptom.</summary>
        public string Observation { get; }

        /// <summary>Of it.</summary>
        public string Outcome { get; }

        /// <summary>How well the words fit, up to 1.</summary>
        public double Score { get; }

        /// <summary>The words that decided.</summary>
        public IReadOnlyList<string> Because { get; }

        internal static IReadOnlyList<Proposal> Read(string json)
        {
            List<object> proposals = Json.List(Json.Object(Json.Parse(json))["proposals"]);
            return proposals.Select(one => new Proposal(Json.Object(one))).ToList().AsReadOnly();
        }
    }
}
