//! What the README tells a reader to type is typed, and prints what the README says it prints.
//!
//! The commands stand in blocks fenced as `sh`; a block fenced without a language right after one is its output.

use assert_cmd::Command;

/// One fenced block: its language, and its lines.
struct Block {
    language: String,
    lines: Vec<String>,
}

fn readme() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).expect("a README.md")
}

fn blocks(text: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut open = false;
    for line in text.lines() {
        if let Some(language) = line.trim_start().strip_prefix("```") {
            if !open {
                blocks.push(Block { language: language.trim().to_owned(), lines: Vec::new() });
            }
            open = !open;
        } else if open && let Some(block) = blocks.last_mut() {
            block.lines.push(line.to_owned());
        }
    }
    assert!(!open, "a fence of the README is not closed");
    blocks
}

/// The commands of a shell block: comments left out, lines that end in a backslash joined.
fn commands(block: &Block) -> Vec<String> {
    let joined = block.lines.join("\n").replace("\\\n", " ");
    joined
        .lines()
        .map(|line| without_comment(line.trim_start_matches("$ ")).trim().to_owned())
        .filter(|command| !command.is_empty())
        .collect()
}

/// The line up to a `#` that begins a word outside quotes.
fn without_comment(line: &str) -> &str {
    let mut quote = None;
    let mut before = ' ';
    for (at, c) in line.char_indices() {
        match quote {
            Some(q) if c == q => quote = None,
            None if c == '"' || c == '\'' => quote = Some(c),
            None if c == '#' && before.is_whitespace() => return &line[..at],
            _ => {}
        }
        before = c;
    }
    line
}

/// The words of a command as a shell splits them, quotes taken off.
fn words(command: &str) -> Vec<String> {
    let (mut words, mut word, mut quote) = (Vec::new(), None::<String>, None);
    for c in command.chars() {
        match quote {
            Some(q) if c == q => quote = None,
            None if c == '"' || c == '\'' => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            None if c.is_whitespace() => words.extend(word.take()),
            _ => word.get_or_insert_default().push(c),
        }
    }
    assert!(quote.is_none(), "a quote is not closed: {command}");
    words.extend(word);
    words
}

/// The arguments of `seamstep …`, `path/to/seamstep …` or `cargo run … -- …`; `None` for another program.
fn arguments(command: &str) -> Option<Vec<String>> {
    // What follows a redirection or a pipe is the shell's.
    let is_ours = |word: &String| !matches!(word.as_str(), "<" | ">" | "|");
    let words: Vec<String> = words(command).into_iter().take_while(is_ours).collect();
    let first = words.first()?;
    if first == "seamstep" || first.ends_with("/seamstep") {
        return Some(words[1..].to_vec());
    }
    if first == "cargo" && words.get(1).is_some_and(|word| word == "run") {
        let dashes = words.iter().position(|word| word == "--").expect("cargo run takes the arguments after --");
        return Some(words[dashes + 1..].to_vec());
    }
    None
}

fn seamstep() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seamstep"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).timeout(std::time::Duration::from_secs(300));
    command
}

/// Every command of the README for this program, with the output block after it when there is one.
fn told() -> Vec<(Vec<String>, Option<String>)> {
    let blocks = blocks(&readme());
    let mut told = Vec::new();
    for (k, block) in blocks.iter().enumerate().filter(|(_, block)| block.language == "sh") {
        let commands = commands(block);
        let output = blocks.get(k + 1).filter(|next| matches!(next.language.as_str(), "" | "text"));
        for (n, command) in commands.iter().enumerate() {
            let last = n + 1 == commands.len();
            let first_line = output.filter(|_| last).and_then(|block| block.lines.first().cloned());
            told.extend(arguments(command).map(|arguments| (arguments, first_line)));
        }
    }
    told
}

#[test]
fn the_first_two_blocks_run_and_test_the_project() {
    let blocks: Vec<Block> = blocks(&readme()).into_iter().filter(|block| block.language == "sh").collect();
    assert!(blocks.len() >= 2, "a block that runs and a block that tests");
    let run = commands(&blocks[0]).join("\n");
    assert!(run.contains("cargo run --release -- check fixtures/"), "{run}");
    assert!(commands(&blocks[1]).iter().any(|command| command.starts_with("cargo test")));
}

#[test]
fn every_command_is_understood() {
    let told = told();
    assert!(!told.is_empty(), "the README tells no command");
    for (arguments, _) in told {
        // With a further option that does not exist, everything before it is parsed and nothing is run.
        let output = seamstep().args(&arguments).arg("--no-such-option").output().expect("the binary runs");
        let talk = String::from_utf8(output.stderr).expect("UTF-8");
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {talk}");
        assert!(talk.contains("unexpected argument '--no-such-option'"), "{arguments:?}: {talk}");
    }
}

#[test]
fn what_is_shown_of_a_fixture_or_a_piece_is_what_is_printed() {
    let mut shown = 0;
    for (arguments, first_line) in told() {
        let starts = |folder: &str| arguments.get(1).is_some_and(|file| file.starts_with(folder));
        let ours = match arguments[0].as_str() {
            "check" => starts("fixtures/"),
            "garment" => starts("reports/"),
            _ => false,
        };
        if !ours {
            continue;
        }
        // The same command, its files written into a folder that goes away again.
        let folder = tempfile::tempdir().expect("a folder");
        let mut elsewhere = arguments.clone();
        for k in 1..elsewhere.len() {
            if matches!(elsewhere[k - 1].as_str(), "--picture" | "--report") {
                elsewhere[k] = folder.path().join(&elsewhere[k]).display().to_string();
            }
        }
        let output = seamstep().args(&elsewhere).output().expect("the binary runs");
        let talk = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(matches!(output.status.code(), Some(0 | 1 | 3)), "{arguments:?}: {:?} {talk}", output.status);
        if let Some(first_line) = first_line {
            let printed = String::from_utf8(output.stdout).expect("UTF-8");
            assert_eq!(printed.lines().next().map(str::trim_end), Some(first_line.trim_end()), "{arguments:?}");
            shown += 1;
        }
    }
    assert!(shown >= 2, "the README shows the output of no check, or of no piece");
}

#[test]
fn commands_are_read_as_a_shell_reads_them() {
    let block = &blocks("```sh\n# try it\nseamstep check a.jpg \\\n  --seam \"1,2 3,4\" # given\n```\n")[0];
    let commands = commands(block);
    assert_eq!(arguments(&commands[0]).expect("a command"), ["check", "a.jpg", "--seam", "1,2 3,4"]);
    assert_eq!(arguments("cargo run --release -- card --out 'my card.pdf'").expect("one")[2], "my card.pdf");
    assert_eq!(arguments("seamstep check - --json < back.jpg").expect("one"), ["check", "-", "--json"]);
    assert!(arguments("cargo test").is_none());
}

#[test]
fn the_settings_shown_are_all_there_are_and_say_what_is_used_without_them() {
    use seamstep::digits::Unit;
    use seamstep::remedy::custom::Rules;
    use seamstep::settings::Settings;
    use seamstep::verdict::place::CUSTOMS;
    let text = readme();
    let blocks = blocks(&text);
    let block = blocks.iter().find(|block| block.language == "toml").expect("the settings");
    let settings = Settings::parse(&block.lines.join("\n"), "README.md").expect("settings that can be read");
    assert_eq!(settings.unit, Some(Unit::default()));
    assert_eq!(settings.rules, Rules::default());
    for custom in &CUSTOMS {
        assert_eq!(settings.tolerances.by_place_mm.get(&custom.place), Some(&custom.tolerance_mm), "{custom:?}");
    }
    let rules = serde_json::to_value(Rules::default()).expect("rules");
    for name in rules.as_object().expect("names").keys() {
        assert!(block.lines.iter().any(|line| line.starts_with(&format!("{name} ="))), "{name}");
    }
}
