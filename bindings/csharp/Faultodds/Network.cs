using System;
using System.Collections.Generic;
using System.Threading;

namespace Faultodds
{
    /// <summary>What the text of a network is written in.</summary>
    public enum NetworkFormat
    {
        /// <summary>BIF 0.15.</summary>
        Bif = 1,

        /// <summary>XMLBIF 0.3.</summary>
        XmlBif = 2,
    }

    /// <summary>What is known of some variables of a network; of one that occurs twice, both.</summary>
    public sealed class NetworkEvidence
    {
        internal struct Known
        {
            internal string Variable;
            internal string State;
            internal double[] Likelihood;
        }

        internal readonly List<Known> All = new List<Known>();

        /// <summary>A variable is in a state.</summary>
        public NetworkEvidence Is(string variable, string state)
        {
            All.Add(new Known { Variable = variable, State = state });
            return this;
        }

        /// <summary>A likelihood over the states of a variable: a finite number of 0 or more per state, not all
        /// 0.</summary>
        public NetworkEvidence Like(string variable, params double[] likelihood)
        {
            All.Add(new Known { Variable = variable, Likelihood = (double[])likelihood.Clone() });
            return this;
        }
    }

    /// <summary>What follows from evidence.</summary>
    public sealed class NetworkAnswer
    {
        internal NetworkAnswer(double logEvidence, IReadOnlyDictionary<string, double[]> posteriors)
        {
            LogEvidence = logEvidence;
            Posteriors = posteriors;
        }

        /// <summary>Natural logarithm of the probability of the evidence.</summary>
        public double LogEvidence { get; }

        /// <summary>Of every variable the probability of each state, in the order of Network.States.</summary>
        public IReadOnlyDictionary<string, double[]> Posteriors { get; }
    }

    /// <summary>A compiled discrete Bayesian network, of hydraulics or not. Immutable: any number of threads may
    /// use one at once. Calls that run while it is disposed of are finished; later ones throw
    /// ObjectDisposedException.</summary>
    public sealed class Network : IDisposable
    {
        private readonly NetworkHandle handle;
        private readonly List<string> variables = new List<string>();
        private readonly Dictionary<string, IReadOnlyList<string>> states =
            new Dictionary<string, IReadOnlyList<string>>();
        private readonly int posteriorCount;

        /// <summary>Reads and compiles a network.</summary>
        /// <param name="text">The network.</param>
        /// <param name="format">What it is written in.</param>
        /// <param name="memoryBudget">Bytes of inference tables; 0 for the library's default of 1 GiB.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">It is refused, with its line; or the budget is too small.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Network(
            string text, NetworkFormat format = NetworkFormat.Bif, ulong memoryBudget = 0,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] bytes = Native.Bytes(text, "text");
            using (var until = new Until(cancellationToken))
            {
                var options = new Native.NetworkOptions
                {
                    StructSize = Native.SizeOf<Native.NetworkOptions>(),
                    MemoryBudget = memoryBudget,
                    Cancel = until.Handle,
                };
                IntPtr network, error;
                int status = Native.NetworkLoad(
                    bytes, Native.Length(bytes), (int)format, options, out network, out error);
                until.Check(status, error);
                handle = new NetworkHandle(network);
            }
            uint count = Native.NetworkVariableCount(handle);
            for (uint variable = 0; variable < count; ++variable)
            {
                var names = new List<string>();
                uint size = Native.NetworkStateCount(handle, variable);
                for (uint state = 0; state < size; ++state)
                    names.Add(Native.Text(Native.NetworkStateName(handle, variable, state)));
                string name = Native.Text(Native.NetworkVariableName(handle, variable));
                variables.Add(name);
                states.Add(name, names.AsReadOnly());
                posteriorCount += names.Count;
            }
        }

        /// <summary>Names of the variables, in the order of the text.</summary>
        public IReadOnlyList<string> Variables { get { return variables.AsReadOnly(); } }

        /// <summary>Names of the states of a variable.</summary>
        /// <exception cref="FaultoddsException">There is no such variable.</exception>
        public IReadOnlyList<string> States(string variable)
        {
            IReadOnlyList<string> names;
            if (states.TryGetValue(variable, out names)) return names;
            throw new FaultoddsException("invalid_argument", "unknown variable `" + variable + "`", "");
        }

        /// <summary>Posteriors of all variables, exact.</summary>
        /// <param name="evidence">What is known.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The evidence is impossible: conflicting_evidence, and the variables
        /// in conflict.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public NetworkAnswer Query(
            NetworkEvidence evidence, CancellationToken cancellationToken = default(CancellationToken))
        {
            var room = new double[posteriorCount];
            double logEvidence;
            using (var until = new Until(cancellationToken))
            using (var pinned = new Pinned())
            {
                var lines = new Native.NetworkEvidence[evidence.All.Count];
                for (int i = 0; i < lines.Length; ++i) lines[i] = Line(evidence.All[i], pinned);
                UIntPtr written;
                IntPtr error;
                int status = Native.NetworkQuery(
                    handle, lines.Length == 0 ? null : lines, new UIntPtr((uint)lines.Length),
                    until.Options, room, new UIntPtr((uint)room.Length), out written, out logEvidence, out error);
                until.Check(status, error);
            }
            var posteriors = new Dictionary<string, double[]>();
            int at = 0;
            foreach (string variable in variables)
            {
                var posterior = new double[states[variable].Count];
                Array.Copy(room, at, posterior, 0, posterior.Length);
                at += posterior.Length;
                posteriors.Add(variable, posterior);
            }
            return new NetworkAnswer(logEvidence, posteriors);
        }

        /// <summary>Frees the network. May be called again.</summary>
        public void Dispose()
        {
            handle.Dispose();
        }

        private Native.NetworkEvidence Line(NetworkEvidence.Known known, Pinned pinned)
        {
            IReadOnlyList<string> names = States(known.Variable);
            var line = new Native.NetworkEvidence
            {
                StructSize = Native.SizeOf<Native.NetworkEvidence>(),
                Variable = (uint)variables.IndexOf(known.Variable),
                State = -1,
            };
            if (known.Likelihood != null)
            {
                if (known.Likelihood.Length == 0) return line;
                line.Likelihood = pinned.Address(known.Likelihood);
                line.LikelihoodCount = new UIntPtr((uint)known.Likelihood.Length);
                return line;
            }
            for (int state = 0; state < names.Count; ++state)
                if (names[state] == known.State) line.State = state;
            if (line.State >= 0) return line;
            throw new FaultoddsException(
                "invalid_argument", "`" + known.Variable + "` has no state `" + known.State + "`", "");
        }
    }
}
