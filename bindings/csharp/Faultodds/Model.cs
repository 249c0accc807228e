using System;
using System.Collections.Generic;
using System.Threading;

namespace Faultodds
{
    /// <summary>A compiled circuit. Immutable: any number of threads may use one model at once. Calls that
    /// run while it is disposed of are finished; later ones throw ObjectDisposedException.</summary>
    public sealed class Model : IDisposable
    {
        private readonly ModelHandle handle;

        /// <summary>Compiles a circuit.</summary>
        /// <param name="circuit">A circuit document, JSON text.</param>
        /// <param name="priors">A prior pack; null for the shipped one.</param>
        /// <param name="assetClass">Which entries of the pack to use; empty for none in particular.</param>
        /// <param name="memoryBudget">Bytes of inference tables; 0 for the library's default of 1 GiB.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">A document is refused, or the budget too small.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Model(
            string circuit, string priors = null, string assetClass = "", ulong memoryBudget = 0,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] circuitText = Native.Bytes(circuit, "circuit");
            byte[] priorsText = priors == null ? null : Native.Bytes(priors, "priors");
            using (var until = new Until(cancellationToken))
            using (var pinned = new Pinned())
            {
                var options = new Native.ModelOptions
                {
                    StructSize = Native.SizeOf<Native.ModelOptions>(),
                    MemoryBudget = memoryBudget,
                    AssetClass = pinned.Text(assetClass, "assetClass"),
                    Cancel = until.Handle,
                };
                IntPtr model, error;
                int status = Native.ModelLoad(
                    circuitText, Native.Length(circuitText), priorsText, Native.Length(priorsText), options, out model,
                    out error);
                until.Check(status, error);
                handle = new ModelHandle(model);
            }
        }

        /// <summary>Ids of the failure modes, "component.mode", in the order of Case.Posteriors.</summary>
        public IReadOnlyList<string> Modes
        {
            get { return Ids(Native.Mode); }
        }

        /// <summary>Ids of everything that can be observed on this circuit.</summary>
        public IReadOnlyList<string> Observations
        {
            get { return Ids(Native.Observation); }
        }

        /// <summary>Ids of the outcomes of an observation, the normal one first.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such observation.</exception>
        public IReadOnlyList<string> Outcomes(string observation)
        {
            byte[] id = Native.Bytes(observation, "observation");
            uint found;
            IntPtr error;
            Native.Check(
                Native.ModelFind(handle, Native.Observation, id, Native.Length(id), out found, out error), error);
            return Ids(
                Native.ModelOutcomeCount(handle, found), outcome => Native.ModelOutcomeId(handle, found, outcome));
        }

        /// <summary>Assesses a case document.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public Assessment Assess(string theCase)
        {
            return Assess(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Assessment Assess(string theCase, CancellationToken cancellationToken)
        {
            byte[] text = Native.Bytes(theCase, "theCase");
            using (var until = new Until(cancellationToken))
            {
                IntPtr answer, error;
                int status = Native.ModelAssessJson(
                    handle, text, Native.Length(text), until.Options, out answer, out error);
                until.Check(status, error);
                return new Assessment(Native.Taken(answer));
            }
        }

        /// <summary>A note for the work order, plain text: what was observed, what is suspected and why, what
        /// to do next, the cautions before everything they belong to.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string Note(string theCase)
        {
            return Note(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public string Note(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.ModelNote.Invoke, theCase, Native.NoteText, cancellationToken);
        }

        /// <summary>The same as one HTML page that needs nothing else; what came from documents is escaped.
        /// </summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string NoteHtml(string theCase)
        {
            return NoteHtml(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public string NoteHtml(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.ModelNote.Invoke, theCase, Native.NoteHtml, cancellationToken);
        }

        /// <summary>The tests to make one after the other, by outcome, and what to replace at the end of each
        /// branch.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public Plan Plan(string theCase)
        {
            return Plan(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call, which keeps what is ready.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call before anything was ready.
        /// </exception>
        public Plan Plan(string theCase, CancellationToken cancellationToken)
        {
            return new Plan(Text(Native.ModelPlan.Invoke, theCase, Native.PlanJson, cancellationToken));
        }

        /// <summary>The same as a card to print, one HTML page, the cautions before everything.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string PlanCard(string theCase)
        {
            return PlanCard(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call, which keeps what is ready.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call before anything was ready.
        /// </exception>
        public string PlanCard(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.ModelPlan.Invoke, theCase, Native.PlanHtml, cancellationToken);
        }

        /// <summary>What the words of a complaint may mean: at most three symptoms with an outcome each, the likeliest
        /// first, none where nothing fits. A person confirms one.</summary>
        /// <param name="text">As an operator wrote it.</param>
        /// <param name="language">That of the text: "en", "de", "es" or "fr".</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">There are no words of the language, or the text is too long.
        /// </exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public IReadOnlyList<Proposal> Propose(
            string text, string language = "en", CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] words = Native.Bytes(text, "text"), of = Native.Bytes(language, "language");
            using (var until = new Until(cancellationToken))
            {
                IntPtr proposals, error;
                int status = Native.ModelProposeJson(
                    handle, words, Native.Length(words), of, Native.Length(of), until.Options, out proposals,
                    out error);
                until.Check(status, error);
                return Proposal.Read(Native.Taken(proposals));
            }
        }

        /// <summary>The record of a closed work order, a document "faultodds-record/1" as JSON text.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="closing">What was found: a document "faultodds-closing/1".</param>
        /// <exception cref="FaultoddsException">A document is refused; a pointer into the case begins with
        /// /case.</exception>
        public string Record(string theCase, string closing)
        {
            return Record(theCase, closing, Native.RecordJson);
        }

        /// <summary>The same as rows of a work-order file (CSV), from which prior packs are learned.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="closing">What was found: a document "faultodds-closing/1".</param>
        /// <param name="header">Whether the rows come below the header that begins such a file.</param>
        /// <exception cref="FaultoddsException">As of Record.</exception>
        public string RecordRows(string theCase, string closing, bool header = false)
        {
            return Record(theCase, closing, header ? Native.RecordCsvHeaded : Native.RecordCsv);
        }

        // A note or a plan.
        private delegate int Written(
            ModelHandle model, byte[] theCase, UIntPtr caseLength, int format, Native.CallOptions options,
            out IntPtr text, out IntPtr error);

        private string Text(
            Written function, string theCase, int format, CancellationToken cancellationToken)
        {
            byte[] text = Native.Bytes(theCase, "theCase");
            using (var until = new Until(cancellationToken))
            {
                IntPtr result, error;
                int status = function(
                    handle, text, Native.Length(text), format, until.Options, out result, out error);
                until.Check(status, error);
                return Native.Taken(result);
            }
        }

        private string Record(string theCase, string closing, int format)
        {
            byte[] text = Native.Bytes(theCase, "theCase"), closed = Native.Bytes(closing, "closing");
            IntPtr record, error;
            Native.Check(
                Native.ModelClose(
                    handle, text, Native.Length(text), closed, Native.Length(closed), format, null, out record,
                    out error),
                error);
            return Native.Taken(record);
        }

        /// <summary>Opens an empty case, for evidence that comes one by one. It may outlive the model.</summary>
        public Case OpenCase()
        {
            IntPtr opened, error;
            Native.Check(Native.CaseOpen(handle, out opened, out error), error);
            return new Case(new CaseHandle(opened), Modes, Observations, Ids(Native.Component));
        }

        /// <summary>What the circuit can show, a document "faultodds-model/1" as JSON text.</summary>
        public string Describe()
        {
            IntPtr document, error;
            Native.Check(Native.ModelDescribeJson(handle, null, out document, out error), error);
            return Native.Taken(document);
        }

        /// <summary>Frees the model. May be called again.</summary>
        public void Dispose()
        {
            handle.Dispose();
        }

        private IReadOnlyList<string> Ids(int kind)
        {
            return Ids(Native.ModelCount(handle, kind), index => Native.ModelId(handle, kind, index));
        }

        // The names live as long as the model, which must not be freed between two of them.
        private IReadOnlyList<string> Ids(uint count, Func<uint, IntPtr> name)
        {
            bool kept = false;
            try
            {
                handle.DangerousAddRef(ref kept);
                var ids = new List<string>((int)count);
                for (uint index = 0; index < count; ++index) ids.Add(Native.Text(name(index)));
                return ids.AsReadOnly();
            }
            finally
            {
                if (kept) handle.DangerousRelease();
            }
        }
    }
}
