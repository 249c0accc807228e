using System;
using System.Collections.Generic;
using System.Linq;
using System.Threading;

namespace Faultodds
{
    /// <summary>The evidence of one work order, made by <see cref="Model.OpenCase"/>. Threads that share a
    /// case take turns. After every change call <see cref="Assess()"/> before asking for results. After it is
    /// disposed of, every method throws ObjectDisposedException.</summary>
    public sealed class Case : IDisposable
    {
        private readonly CaseHandle handle;
        private readonly object turn = new object();
        private readonly IReadOnlyList<string> modes;
        private readonly IReadOnlyList<string> observations;
        private readonly IReadOnlyList<string> components;

        internal Case(
            CaseHandle handle, IReadOnlyList<string> modes, IReadOnlyList<string> observations,
            IReadOnlyList<string> components)
        {
            this.components = components;
            this.handle = handle;
            this.modes = modes;
            this.observations = observations;
        }

        private delegate int Call(out IntPtr error);

        private delegate int EndedCall(Native.CallOptions options, out IntPtr error);

        /// <summary>Adds an outcome. Repeating an observation adds to what is known of it.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such observation or outcome.</exception>
        public void Observe(string observation, string outcome)
        {
            ObserveEntry("{\"observation\":" + Json.Quote(observation) + ",\"outcome\":" + Json.Quote(outcome) + "}");
        }

        /// <summary>Adds a likelihood over the grades sound, worn, failed, of an instrument of the caller's
        /// own: finite numbers of 0 or more, not all 0.</summary>
        /// <exception cref="FaultoddsException">They are not, or the circuit has no such observation.</exception>
        public void ObserveLikelihood(string observation, double sound, double worn, double failed)
        {
            uint index = Index(observation);
            var likelihood = new[] { sound, worn, failed };
            Run((out IntPtr error) => Native.CaseObserveLikelihood(handle, index, likelihood, out error));
        }

        /// <summary>Adds one entry of a case document's observations: an outcome, a reading, a repair.</summary>
        /// <param name="entry">JSON text such as
        /// {"observation":"static/valve.a","reading":{"leak_rate":"40 mL/min"}}.</param>
        /// <exception cref="FaultoddsException">It is refused.</exception>
        public void ObserveEntry(string entry)
        {
            byte[] text = Native.Bytes(entry, "entry");
            Run((out IntPtr error) => Native.CaseObserveJson(handle, text, Native.Length(text), null, out error));
        }

        /// <summary>Says that components were replaced by new ones.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such component.</exception>
        public void Repaired(params string[] components)
        {
            ObserveEntry("{\"repaired\":[" + string.Join(",", components.Select(Json.Quote)) + "]}");
        }

        /// <summary>Takes back all that was said of an observation; nothing happens if nothing was.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such observation.</exception>
        public void Retract(string observation)
        {
            uint index = Index(observation);
            Run((out IntPtr error) => Native.CaseRetract(handle, index, out error));
        }

        /// <summary>Says that a setup step, an id from a test's Setup, is done and costs nothing more.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such step.</exception>
        public void SetupDone(string step)
        {
            byte[] text = Native.Bytes(step, "step");
            Run((out IntPtr error) => Native.CaseSetupDone(handle, text, Native.Length(text), out error));
        }

        /// <summary>Computes what the members below give, from what the case now holds.</summary>
        /// <exception cref="FaultoddsException">With "conflicting_evidence" if it cannot all be true.</exception>
        public void Assess()
        {
            Assess(CancellationToken.None);
        }

        /// <summary>The same, with what ends the call; the case then keeps what it holds.</summary>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">With "conflicting_evidence" if it cannot all be true.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public void Assess(CancellationToken cancellationToken)
        {
            Run(
                cancellationToken,
                (Native.CallOptions options, out IntPtr error) => Native.CaseAssess(handle, options, out error));
        }

        /// <summary>Natural logarithm of the probability (density, for readings) of the evidence.</summary>
        public double LogEvidence()
        {
            return Summary().LogEvidence;
        }

        /// <summary>The most by which a number of the answer can be wrong; 0 unless the model's memory budget
        /// was too small for an exact one.</summary>
        public double ErrorBound()
        {
            return Summary().ErrorBound;
        }

        private Native.CaseSummary Summary()
        {
            var summary = new Native.CaseSummary { StructSize = Native.SizeOf<Native.CaseSummary>() };
            Run((out IntPtr error) => Native.CaseReadSummary(handle, ref summary, out error));
            return summary;
        }

        /// <summary>P(sound), P(worn), P(failed) of every failure mode.</summary>
        public IReadOnlyDictionary<string, double[]> Posteriors()
        {
            var room = new double[3 * modes.Count];
            UIntPtr count;
            Run((out IntPtr error) =>
                Native.CasePosteriors(handle, room, new UIntPtr((uint)room.Length), out count, out error));
            var grades = new Dictionary<string, double[]>();
            for (int mode = 0; mode < modes.Count; ++mode)
                grades[modes[mode]] = new[] { room[3 * mode], room[3 * mode + 1], room[3 * mode + 2] };
            return grades;
        }

        /// <summary>What is probably behind each abnormal symptom, the complaint first; empty where nothing
        /// abnormal was seen.</summary>
        public IReadOnlyList<Causes> Causes()
        {
            var every = new List<Causes>();
            lock (turn)
            {
                uint count = Summary().CauseCount;
                for (uint rank = 0; rank < count; ++rank) every.Add(CausesAt(rank));
            }
            return every.AsReadOnly();
        }

        private Causes CausesAt(uint rank)
        {
            var line = new Native.Causes { StructSize = Native.SizeOf<Native.Causes>() };
            Run((out IntPtr error) => Native.CaseCauses(handle, rank, ref line, out error));
            var probabilities = new double[line.ShareCount];
            var ends = new uint[line.ShareCount];
            var room = new uint[line.ComponentCount];
            Run((out IntPtr error) => Native.CaseShares(
                handle, rank, probabilities, ends, new UIntPtr((uint)ends.Length), room,
                new UIntPtr((uint)room.Length), out error));
            var shares = new List<object>();
            uint at = 0;
            for (int share = 0; share < ends.Length; ++share)
            {
                var together = new List<object>();
                while (at < ends[share]) together.Add(components[(int)room[at++]]);
                shares.Add(new Dictionary<string, object>
                {
                    { "components", together }, { "probability", probabilities[share] },
                });
            }
            return new Causes(new Members(new Dictionary<string, object>
            {
                { "observation", observations[(int)line.Observation] }, { "shares", shares },
                { "by_design", line.ByDesign }, { "elsewhere", line.Elsewhere }, { "nothing", line.Nothing },
            }));
        }

        /// <summary>The ranking, best first by what each test tells; the answer puts the test of its advice
        /// first. Titles, cautions and reasons are in <see cref="Answer()"/>.</summary>
        public IReadOnlyList<RankedTest> Tests()
        {
            var ranking = new List<RankedTest>();
            lock (turn)
            {
                uint count = Summary().TestCount;
                for (uint rank = 0; rank < count; ++rank)
                {
                    var line = new Native.RankedTest
                    {
                        StructSize = Native.SizeOf<Native.RankedTest>(),
                    };
                    uint at = rank;
                    Run((out IntPtr error) => Native.CaseTest(handle, at, ref line, out error));
                    ranking.Add(new RankedTest(
                        observations[(int)line.Observation], line.Energised != 0, line.InformationBits,
                        line.CauseBits, line.Minutes, line.BitsPerMinute));
                }
            }
            return ranking.AsReadOnly();
        }

        /// <summary>The whole assessment, with the cautions of every test.</summary>
        public Assessment Answer()
        {
            return Answer(CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Assessment Answer(CancellationToken cancellationToken)
        {
            IntPtr answer = IntPtr.Zero;
            Run(
                cancellationToken,
                (Native.CallOptions options, out IntPtr error) =>
                    Native.CaseAnswerJson(handle, options, out answer, out error));
            return new Assessment(Native.Taken(answer));
        }

        /// <summary>Assesses cases of one model at once, as <see cref="Assess()"/> does each but faster: those with
        /// evidence on the same observations are computed side by side. No case may occur twice, and no other
        /// thread use one meanwhile.</summary>
        /// <param name="cases">The cases.</param>
        /// <param name="threads">How many threads share the work, 1 or more.</param>
        /// <param name="cancellationToken">Ends the call; what was assessed by then stays so.</param>
        /// <exception cref="FaultoddsException">For the first that cannot be assessed, with a Pointer that begins
        /// with /cases/ and its index; the others are assessed all the same.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public static void AssessAll(
            IReadOnlyList<Case> cases, int threads = 1,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            Native.AtLeast("threads", threads, 1);
            if (cases.Count == 0) return;
            var addresses = new IntPtr[cases.Count];
            int kept = 0;
            try
            {
                for (; kept < cases.Count; ++kept)
                {
                    bool added = false;
                    cases[kept].handle.DangerousAddRef(ref added);
                    addresses[kept] = cases[kept].handle.DangerousGetHandle();
                }
                using (var until = new Until(cancellationToken))
                {
                    IntPtr error;
                    int status = Native.CasesAssess(
                        addresses, new UIntPtr((uint)addresses.Length), (uint)threads, until.Options, null, out error);
                    until.Check(status, error);
                }
            }
            finally
            {
                while (kept > 0) cases[--kept].handle.DangerousRelease();
            }
        }

        /// <summary>Frees the case. May be called again.</summary>
        public void Dispose()
        {
            lock (turn) handle.Dispose();
        }

        private void Run(Call call)
        {
            lock (turn)
            {
                IntPtr error;
                int status = call(out error);
                Native.Check(status, error);
            }
        }

        private void Run(CancellationToken token, EndedCall call)
        {
            using (var until = new Until(token))
            {
                lock (turn)
                {
                    IntPtr error;
                    int status = call(until.Options, out error);
                    until.Check(status, error);
                }
            }
        }

        private uint Index(string observation)
        {
            for (int index = 0; index < observations.Count; ++index)
                if (observations[index] == observation) return (uint)index;
            throw new FaultoddsException("invalid_argument", "unknown observation `" + observation + "`", "");
        }
    }

    /// <summary>One line of an open case's ranking.</summary>
    public sealed class RankedTest
    {
        internal RankedTest(
            string observation, bool energised, double informationBits, double causeBits, double minutes,
            double bitsPerMinute)
        {
            Observation = observation;
            Energised = energised;
            InformationBits = informationBits;
            CauseBits = causeBits;
            Minutes = minutes;
            BitsPerMinute = bitsPerMinute;
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>About all failure modes.</summary>
        public double InformationBits { get; }

        /// <summary>About the cause of the complaint.</summary>
        public double CauseBits { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>What the order within a safety class rests on.</summary>
        public double BitsPerMinute { get; }
    }
}
