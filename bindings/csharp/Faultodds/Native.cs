using System;
using System.Collections.Generic;
using System.Runtime.InteropServices;
using System.Text;

namespace Faultodds
{
    /// <summary>A model of the library. Calls keep it alive: disposing waits for those that run.</summary>
    internal sealed class ModelHandle : SafeHandle
    {
        internal ModelHandle(IntPtr model) : base(IntPtr.Zero, true)
        {
            SetHandle(model);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.ModelFree(handle);
            return true;
        }
    }

    /// <summary>An open case of the library.</summary>
    internal sealed class CaseHandle : SafeHandle
    {
        internal CaseHandle(IntPtr opened) : base(IntPtr.Zero, true)
        {
            SetHandle(opened);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.CaseFree(handle);
            return true;
        }
    }

    /// <summary>A network of the library. Calls keep it alive: disposing waits for those that run.</summary>
    internal sealed class NetworkHandle : SafeHandle
    {
        internal NetworkHandle(IntPtr network) : base(IntPtr.Zero, true)
        {
            SetHandle(network);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.NetworkFree(handle);
            return true;
        }
    }

    /// <summary>Keeps what the library reads where it is until it is disposed of.</summary>
    internal sealed class Pinned : IDisposable
    {
        private readonly List<GCHandle> handles = new List<GCHandle>();

        internal IntPtr Address(Array values)
        {
            GCHandle handle = GCHandle.Alloc(values, GCHandleType.Pinned);
            handles.Add(handle);
            return handle.AddrOfPinnedObject();
        }

        /// <summary>null is no text.</summary>
        internal Native.TextOf Text(byte[] text)
        {
            if (text == null) return new Native.TextOf();
            // An empty text is a text all the same, and has an address.
            return new Native.TextOf
            {
                At = Address(text.Length == 0 ? new byte[1] : text),
                Length = Native.Length(text),
            };
        }

        internal Native.TextOf Text(string text, string what)
        {
            return Text(string.IsNullOrEmpty(text) ? null : Native.Bytes(text, what));
        }

        public void Dispose()
        {
            foreach (GCHandle handle in handles) handle.Free();
            handles.Clear();
        }
    }

    /// <summary>How numbers, text and errors cross between C# and C. What C has is in Declarations.cs. Its functions
    /// are bound at run time because DllImport can name neither a file chosen then nor one whose name differs between
    /// platforms.</summary>
    internal static partial class Native
    {
        private static readonly Encoding Utf8 = new UTF8Encoding(false, true);

        /// <summary>A text among the members of a struct, and its length.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct TextOf
        {
            internal IntPtr At;
            internal UIntPtr Length;
        }

        /// <summary>Size of a struct, as its first member tells the library.</summary>
        internal static UIntPtr SizeOf<T>()
        {
            return new UIntPtr((uint)Marshal.SizeOf(typeof(T)));
        }

        /// <summary>A number for C, which would take a negative one for a large one.</summary>
        internal static long AtLeast(string name, long value, long least)
        {
            if (value >= least) return value;
            throw new ArgumentOutOfRangeException(name, value, "expected " + least + " or more");
        }

        /// <summary>UTF-8 bytes of a text; a lone surrogate is no Unicode and is refused here.</summary>
        internal static byte[] Bytes(string text, string what)
        {
            if (text == null) throw new ArgumentNullException(what);
            try
            {
                return Utf8.GetBytes(text);
            }
            catch (EncoderFallbackException problem)
            {
                throw new ArgumentException("a lone surrogate is no Unicode text", what, problem);
            }
        }

        internal static UIntPtr Length(byte[] text)
        {
            return text == null ? UIntPtr.Zero : new UIntPtr((uint)text.Length);
        }

        /// <summary>Copies a string that the library keeps.</summary>
        internal static string Text(IntPtr borrowed)
        {
            if (borrowed == IntPtr.Zero) return "";
            int length = 0;
            while (Marshal.ReadByte(borrowed, length) != 0) ++length;
            var bytes = new byte[length];
            Marshal.Copy(borrowed, bytes, 0, length);
            return Utf8.GetString(bytes);
        }

        /// <summary>Copies so many bytes of a string that the library keeps.</summary>
        internal static string Text(IntPtr borrowed, UIntPtr length)
        {
            var bytes = new byte[(int)length.ToUInt32()];
            Marshal.Copy(borrowed, bytes, 0, bytes.Length);
            return Utf8.GetString(bytes);
        }

        /// <summary>Copies a string that the library gave away, and frees it.</summary>
        internal static string Taken(IntPtr owned)
        {
            try
            {
                return Text(owned);
            }
            finally
            {
                Free(owned);
            }
        }

        /// <summary>Throws what a status other than OK means; frees the library's error.</summary>
        internal static void Check(int status, IntPtr error)
        {
            if (status == 0) return;
            try
            {
                throw new FaultoddsException(
                    Text(StatusName(status)), Text(ErrorMessage(error)), Text(ErrorPointer(error)));
            }
            finally
            {
                ErrorFree(error);
            }
        }

        private static T Bind<T>(string function) where T : class
        {
            IntPtr address = Library.Symbol(function);
            if (address == IntPtr.Zero)
                throw new EntryPointNotFoundException(function + " is not in the faultodds library: it is older");
            return (T)(object)Marshal.GetDelegateForFunctionPointer(address, typeof(T));
        }
    }
}
