using System;
using System.Collections.Generic;
using System.Runtime.ExceptionServices;
using System.Runtime.InteropServices;
using System.Threading;

namespace Faultodds
{
    /// <summary>CSV: a text, or a file, which is read at constant memory.</summary>
    public sealed class Records
    {
        private readonly byte[] bytes;
        private readonly bool isFile;

        private Records(byte[] bytes, bool isFile)
        {
            this.bytes = bytes;
            this.isFile = isFile;
        }

        /// <summary>Records in memory.</summary>
        public static Records OfText(string text)
        {
            return new Records(Native.Bytes(text, "text"), false);
        }

        /// <summary>Records in a file.</summary>
        public static Records OfFile(string path)
        {
            return new Records(Native.Bytes(path, "path"), true);
        }

        internal Native.Records Line(Pinned pinned)
        {
            var line = new Native.Records { StructSize = Native.SizeOf<Native.Records>() };
            if (isFile) line.Path = pinned.Text(bytes);
            else line.Text = pinned.Text(bytes);
            return line;
        }
    }

    /// <summary>How to learn. What is not set takes its default.</summary>
    public sealed class LearnOptions
    {
        /// <summary>Counts, with the shipped pack as judgement.</summary>
        /// <param name="source">Id of these records, which merging counts once.</param>
        public LearnOptions(string source)
        {
            Source = source;
        }

        /// <summary>Id of these records.</summary>
        public string Source { get; }

        /// <summary>Machines in service and their hours, which give rates.</summary>
        public Records Exposure { get; set; }

        /// <summary>Of the pack.</summary>
        public string Title { get; set; }

        /// <summary>"faultodds-records/1": where the owner's file differs.</summary>
        public string Mapping { get; set; }

        /// <summary>A circuit document, whose own component types are known too.</summary>
        public string Circuit { get; set; }

        /// <summary>The pack to start from, in place of the shipped one.</summary>
        public string Judgement { get; set; }

        /// <summary>Jobs that a pack without records is worth; 0 for 20.</summary>
        public double WorthJobs { get; set; }

        /// <summary>Every asset class stands by itself.</summary>
        public bool WithoutPooling { get; set; }

        /// <summary>By expectation-maximisation through the circuit: what was tested counts, and that records
        /// exist only because of a complaint is corrected for. Such a pack cannot be merged.</summary>
        public bool ThroughCircuit { get; set; }

        /// <summary>Outcome statistics too.</summary>
        public bool LearnOutcomes { get; set; }

        /// <summary>Through the circuit only; the answer does not depend on it.</summary>
        public int Threads { get; set; } = 1;

        /// <summary>How many work orders, the latest, the summary names in "audit" for each failure mode that
        /// they say something of.</summary>
        public int AuditOrders { get; set; }

        /// <summary>Given each row that is not used, as a row of CSV; false, or an exception, ends the
        /// call.</summary>
        public Func<string, bool> Reject { get; set; }

        /// <summary>Told how many rows were read; false, or an exception, ends the call.</summary>
        public Func<long, bool> Progress { get; set; }
    }

    /// <summary>How to backtest. What is not set takes its default.</summary>
    public sealed class BacktestOptions
    {
        /// <summary>The present pack, in place of the shipped one.</summary>
        public string Before { get; set; }

        /// <summary>The pack offered, in place of one that is learned through the circuit as the replay
        /// goes.</summary>
        public string After { get; set; }

        /// <summary>"faultodds-records/1": where the owner's file differs.</summary>
        public string Mapping { get; set; }

        /// <summary>Of the machines.</summary>
        public string AssetClass { get; set; }

        /// <summary>Jobs that a pack without records is worth; 0 for 20.</summary>
        public double WorthJobs { get; set; }

        /// <summary>Probability at which a cause counts as isolated; 0 for 0.9.</summary>
        public double Isolated { get; set; }

        /// <summary>Jobs replayed, evenly spaced in time; 0 for all.</summary>
        public long MostJobs { get; set; }

        /// <summary>The answer does not depend on it.</summary>
        public int Threads { get; set; } = 1;

        /// <summary>Told how many jobs were replayed; false, or an exception, ends the call.</summary>
        public Func<long, bool> Progress { get; set; }
    }

    /// <summary>What was learned.</summary>
    public sealed class LearnedPriors
    {
        internal LearnedPriors(string pack, string summary)
        {
            Pack = pack;
            Summary = summary;
        }

        /// <summary>A prior pack.</summary>
        public string Pack { get; }

        /// <summary>"faultodds-records-summary/1", which accounts for every row.</summary>
        public string Summary { get; }
    }

    /// <summary>Prior packs from closed work orders: learn, merge, compare, backtest. Documents are JSON
    /// texts.</summary>
    public static class Priors
    {
        /// <summary>Learns a pack from closed work orders.</summary>
        /// <param name="orders">CSV.</param>
        /// <param name="how">The options.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">A document is refused, a file cannot be read, or a callback ended
        /// the call.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public static LearnedPriors Learn(
            Records orders, LearnOptions how, CancellationToken cancellationToken = default(CancellationToken))
        {
            using (var until = new Until(cancellationToken))
            using (var pinned = new Pinned())
            using (var callbacks = new Callbacks(how.Progress, how.Reject))
            {
                Native.Records given = orders.Line(pinned);
                Native.Records exposure = how.Exposure == null ? null : how.Exposure.Line(pinned);
                var options = new Native.LearnOptions
                {
                    StructSize = Native.SizeOf<Native.LearnOptions>(),
                    Source = pinned.Text(how.Source, "source"),
                    Title = pinned.Text(how.Title, "title"),
                    Mapping = pinned.Text(how.Mapping, "mapping"),
                    Circuit = pinned.Text(how.Circuit, "circuit"),
                    Judgement = pinned.Text(how.Judgement, "judgement"),
                    WorthJobs = how.WorthJobs,
                    NoPooling = how.WithoutPooling ? 1 : 0,
                    ThroughCircuit = how.ThroughCircuit ? 1 : 0,
                    LearnOutcomes = how.LearnOutcomes ? 1 : 0,
                    Threads = (uint)Native.AtLeast("Threads", how.Threads, 1),
                    AuditOrders = (uint)Native.AtLeast("AuditOrders", how.AuditOrders, 0),
                    Reject = callbacks.Write,
                    Progress = callbacks.Progress,
                    Cancel = until.Handle,
                };
                IntPtr pack, summary, error;
                int status = Native.PriorsLearn(given, exposure, options, out pack, out summary, out error);
                callbacks.Check(status, error, until);
                return new LearnedPriors(Native.Taken(pack), Native.Taken(summary));
            }
        }

        /// <summary>One pack from those of several depots, two or more: what learning from all their records at
        /// once gives.</summary>
        /// <exception cref="FaultoddsException">One is refused, or a source is in two of them.</exception>
        public static string Merge(params string[] packs)
        {
            using (var pinned = new Pinned())
            {
                var addresses = new IntPtr[packs.Length];
                var lengths = new UIntPtr[packs.Length];
                for (int i = 0; i < packs.Length; ++i)
                {
                    Native.TextOf text = pinned.Text(Native.Bytes(packs[i], "packs"));
                    addresses[i] = text.At;
                    lengths[i] = text.Length;
                }
                IntPtr merged, error;
                int status = Native.PriorsMerge(
                    addresses, lengths, new UIntPtr((uint)packs.Length), null, out merged, out error);
                Native.Check(status, error);
                return Native.Taken(merged);
            }
        }

        /// <summary>What changed, on how many jobs, how sure: "faultodds-priors-diff/1", the largest change
        /// first.</summary>
        /// <param name="before">A prior pack; null for the shipped one.</param>
        /// <param name="after">A prior pack.</param>
        /// <exception cref="FaultoddsException">One is refused.</exception>
        public static string Diff(string before, string after)
        {
            byte[] old = before == null ? null : Native.Bytes(before, "before");
            byte[] now = Native.Bytes(after, "after");
            IntPtr difference, error;
            int status = Native.PriorsDiffJson(
                old, Native.Length(old), now, Native.Length(now), null, out difference, out error);
            Native.Check(status, error);
            return Native.Taken(difference);
        }

        /// <summary>Replays closed orders of one circuit in time order with two packs, without looking ahead:
        /// "faultodds-backtest/1".</summary>
        /// <param name="circuit">A circuit document.</param>
        /// <param name="orders">CSV.</param>
        /// <param name="how">The options.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">A document is refused, fewer than ten jobs can be used, or a callback
        /// ended the call.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public static string Backtest(
            string circuit, Records orders, BacktestOptions how,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] text = Native.Bytes(circuit, "circuit");
            using (var until = new Until(cancellationToken))
            using (var pinned = new Pinned())
            using (var callbacks = new Callbacks(how.Progress, null))
            {
                Native.Records given = orders.Line(pinned);
                var options = new Native.BacktestOptions
                {
                    StructSize = Native.SizeOf<Native.BacktestOptions>(),
                    Mapping = pinned.Text(how.Mapping, "mapping"),
                    Before = pinned.Text(how.Before, "before"),
                    After = pinned.Text(how.After, "after"),
                    AssetClass = pinned.Text(how.AssetClass, "assetClass"),
                    WorthJobs = how.WorthJobs,
                    Isolated = how.Isolated,
                    MostJobs = (ulong)Native.AtLeast("MostJobs", how.MostJobs, 0),
                    Threads = (uint)Native.AtLeast("Threads", how.Threads, 1),
                    Progress = callbacks.Progress,
                    Cancel = until.Handle,
                };
                IntPtr answer, error;
                int status = Native.PriorsBacktestJson(
                    text, Native.Length(text), given, options, out answer, out error);
                callbacks.Check(status, error, until);
                return Native.Taken(answer);
            }
        }

        // Callbacks as C has them, for one call. What one of them throws ends the call, which then throws it.
        private sealed class Callbacks : IDisposable
        {
            private readonly Native.ProgressCallback progress;
            private readonly Native.WriteCallback write;
            private Exception thrown;

            internal Callbacks(Func<long, bool> progress, Func<string, bool> rows)
            {
                if (progress != null)
                    this.progress = (context, done) => Kept(() => progress((long)done));
                if (rows != null)
                    write = (context, text, length) => Kept(() => rows(Native.Text(text, length)));
            }

            internal IntPtr Progress { get { return Address(progress); } }

            internal IntPtr Write { get { return Address(write); } }

            internal void Check(int status, IntPtr error, Until until)
            {
                if (thrown != null)
                {
                    Native.ErrorFree(error);
                    ExceptionDispatchInfo.Capture(thrown).Throw();
                }
                until.Check(status, error);
            }

            // Disposed of after the call, so that the library's function pointers live as long.
            public void Dispose()
            {
                GC.KeepAlive(progress);
                GC.KeepAlive(write);
            }

            private static IntPtr Address(Delegate callback)
            {
                return callback == null ? IntPtr.Zero : Marshal.GetFunctionPointerForDelegate(callback);
            }

            private int Kept(Func<bool> told)
            {
                try
                {
                    return told() ? 0 : 1;
                }
                catch (Exception problem)
                {
                    thrown = problem;
                    return 1;
                }
            }
        }
    }
}
