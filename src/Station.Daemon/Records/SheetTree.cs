using System.Collections.Immutable;
using YamlDotNet.Core;
using YamlDotNet.Core.Events;

namespace Station.Daemon.Records;

/// <summary>
/// Turns YAML into nodes with places, from the parser's events, so that nothing in a sheet can make more of it than was written:
/// no anchors and aliases (a few lines of them can stand for gigabytes), no tags, one document, bounded depth and number of nodes.
/// </summary>
internal sealed class SheetTree
{
    /// <summary>UTF-8 bytes. A sheet of a hundred tracks has about 10 kB.</summary>
    public const int MaxBytes = 1024 * 1024;

    /// <summary>Nested lists and groups. A sheet needs five.</summary>
    public const int MaxDepth = 16;

    /// <summary>Values, lists and groups together. Twenty-six sides of a hundred tracks with four keys each come to about 26,000.</summary>
    public const int MaxNodes = 50_000;

    private readonly Parser _parser;
    private int _nodes;

    private SheetTree(string text) => _parser = new Parser(new Scanner(new StringReader(text), skipComments: true));

    /// <summary>The document's root, or the one thing that made it unreadable.</summary>
    public static (SheetNode? Root, SheetError? Error) Parse(string text)
    {
        var tree = new SheetTree(text);
        try
        {
            return (tree.Document(), null);
        }
        catch (SheetSyntaxException e)
        {
            return (null, e.Error);
        }
        catch (YamlException e)
        {
            return (null, new SheetError((int)Math.Max(1, e.Start.Line), (int)Math.Max(1, e.Start.Column), "", "not valid YAML: " + OneLine(e)));
        }
    }

    private static string OneLine(YamlException e)
    {
        string message = e.InnerException is YamlException inner ? inner.Message : e.Message;
        return string.Concat(message.Select(c => char.IsControl(c) ? ' ' : c));
    }

    private SheetNode? Document()
    {
        Next();
        if (Next() is StreamEnd)
        {
            return null;
        }

        SheetNode root = Node(Next(), depth: 1);
        Next();
        if (Next() is not StreamEnd)
        {
            throw Refuse(_parser.Current!, "a sheet is one document; a second one begins here");
        }

        return root;
    }

    private ParsingEvent Next()
    {
        try
        {
            return _parser.MoveNext() ? _parser.Current! : throw new YamlException("the text ends inside a value");
        }
        catch (Exception e) when (e is not YamlException)
        {
            // On a few broken texts (the tag !!], a NUL after ...) the parser trips over its own assertions instead of naming a place.
            (int line, int column) = _parser.Current is { } last ? ((int)last.End.Line, (int)last.End.Column) : (1, 1);
            throw new SheetSyntaxException(new SheetError(Math.Max(1, line), Math.Max(1, column), "", "not valid YAML after this place"));
        }
    }

    private SheetNode Node(ParsingEvent e, int depth)
    {
        if (++_nodes > MaxNodes)
        {
            throw Refuse(e, $"a sheet has at most {MaxNodes} values");
        }

        if (depth > MaxDepth)
        {
            throw Refuse(e, $"lists and groups are nested more than {MaxDepth} deep");
        }

        if (e is AnchorAlias || (e is NodeEvent { Anchor.IsEmpty: false }))
        {
            throw Refuse(e, "anchors (&) and aliases (*) aren't used in sheets; put a text that begins so in quotes");
        }

        if (e is NodeEvent { Tag.IsEmpty: false })
        {
            throw Refuse(e, "tags (!) aren't used in sheets; put a text that begins so in quotes");
        }

        (int line, int column) = At(e);
        return e switch
        {
            Scalar scalar => new SheetScalar(line, column, scalar.Value, scalar.Style == ScalarStyle.Plain),
            SequenceStart => new SheetList(line, column, Items(depth)),
            MappingStart => new SheetMap(line, column, Entries(depth)),
            _ => throw Refuse(e, "expected a value"),
        };
    }

    private ImmutableArray<SheetNode> Items(int depth)
    {
        ImmutableArray<SheetNode>.Builder items = ImmutableArray.CreateBuilder<SheetNode>();
        for (ParsingEvent e = Next(); e is not SequenceEnd; e = Next())
        {
            items.Add(Node(e, depth + 1));
        }

        return items.ToImmutable();
    }

    private ImmutableArray<(SheetScalar Key, SheetNode Value)> Entries(int depth)
    {
        ImmutableArray<(SheetScalar, SheetNode)>.Builder entries = ImmutableArray.CreateBuilder<(SheetScalar, SheetNode)>();
        for (ParsingEvent e = Next(); e is not MappingEnd; e = Next())
        {
            if (Node(e, depth + 1) is not SheetScalar key)
            {
                throw Refuse(e, "a key is a single word, not a list or group");
            }

            entries.Add((key, Node(Next(), depth + 1)));
        }

        return entries.ToImmutable();
    }

    private static (int Line, int Column) At(ParsingEvent e) => ((int)e.Start.Line, (int)e.Start.Column);

    private static SheetSyntaxException Refuse(ParsingEvent e, string message)
    {
        (int line, int column) = At(e);
        return new SheetSyntaxException(new SheetError(line, column, "", message));
    }

    // Leaves the walk through the events from any depth; caught in Parse and nowhere else.
    private sealed class SheetSyntaxException(SheetError error) : Exception(error.Message)
    {
        public SheetError Error { get; } = error;
    }
}
