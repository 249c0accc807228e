using System;

namespace Faultodds
{
    /// <summary>The library refused a call.</summary>
    public sealed class FaultoddsException : Exception
    {
        internal FaultoddsException(string code, string sentence, string pointer)
            : base(code + ": " + sentence + (pointer.Length == 0 ? "" : " (at " + pointer + ")"))
        {
            Code = code;
            Sentence = sentence;
            Pointer = pointer;
        }

        /// <summary>What went wrong, for programs: "invalid_case", "conflicting_evidence", ... Later versions
        /// may add codes.</summary>
        public string Code { get; }

        /// <summary>A sentence for a person: the field, the value and what was expected. Message has the code
        /// and the place besides.</summary>
        public string Sentence { get; }

        /// <summary>Where: an RFC 6901 pointer into the document at fault, such as
        /// "/observations/0/outcome"; empty for the whole of it. <see cref="Engine.Assess"/> puts /circuit,
        /// /case or /priors before it.</summary>
        public string Pointer { get; }
    }
}
