using System;
using System.Diagnostics;
using System.Linq;
using System.Reflection;

/// <summary>Marks a method that shows one behaviour.</summary>
[AttributeUsage(AttributeTargets.Method)]
internal sealed class BehaviourAttribute : Attribute
{
}

internal static class Check
{
    internal static void That(bool holds, string what)
    {
        if (!holds) throw new Exception(what);
    }

    internal static void Same<T>(T expected, T actual, string where)
    {
        That(Equals(expected, actual), where + ": expected " + expected + ", got " + actual);
    }

    internal static T Throws<T>(Action action, string where) where T : Exception
    {
        try
        {
            action();
        }
        catch (T thrown)
        {
            return thrown;
        }
        throw new Exception(where + ": nothing was thrown; expected " + typeof(T).Name);
    }
}

/// <summary>Runs every marked method of the program, each on an object of its own; "answers" prints some instead.</summary>
internal static class Runner
{
    private static int Main(string[] arguments)
    {
        if (arguments.Contains("answers"))
        {
            Answers.Print();
            return 0;
        }
        int failed = 0, passed = 0;
        var tests = from type in Assembly.GetExecutingAssembly().GetTypes()
                    from method in type.GetMethods(BindingFlags.Instance | BindingFlags.Public)
                    where method.GetCustomAttributes(typeof(BehaviourAttribute), false).Length > 0
                    select method;
        foreach (var test in tests)
        {
            string name = test.DeclaringType.Name + "." + test.Name;
            var time = Stopwatch.StartNew();
            try
            {
                test.Invoke(Activator.CreateInstance(test.DeclaringType), null);
                ++passed;
                Console.WriteLine("ok      {0} ({1} ms)", name, time.ElapsedMilliseconds);
            }
            catch (TargetInvocationException problem)
            {
                ++failed;
                Console.WriteLine("FAILED  {0}\n{1}", name, problem.InnerException);
            }
        }
        Console.WriteLine("{0} passed, {1} failed", passed, failed);
        return failed == 0 && passed > 0 ? 0 : 1;
    }
}
