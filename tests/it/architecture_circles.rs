//! No file of the library uses one that uses it in turn, by whatever way round.
//!
//! What counts as using: every path in the code, followed through the `pub use`
//! of a folder's head to the file that has the item. That a head declares its
//! parts and passes their items on is no use.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::architecture::{product_code, source_files};

/// Circles that read better than what would break them, each with its reason.
const ALLOWED: &[(&str, &str)] = &[(
    "geometry/fit",
    "the fit: the head sets the problem, its parts search the forms and score them",
)];

type Module = Vec<String>;

/// The paths of one file, from the root of the library.
#[derive(Default)]
struct Paths {
    passed_on: Vec<Module>,
    used: Vec<Module>,
}

fn modules() -> BTreeMap<Module, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = BTreeMap::new();
    for file in source_files() {
        let below = file.strip_prefix(&root).unwrap().with_extension("");
        let mut module: Module = below
            .iter()
            .map(|name| name.to_str().unwrap().to_owned())
            .collect();
        module.pop_if(|name| name == "mod");
        if module != ["main"] && module != ["lib"] {
            found.insert(
                module,
                product_code(&file).replace("pub(in crate::", "pub(in "),
            );
        }
    }
    found.insert(Module::new(), String::new());
    found
}

/// `a::{b, c::d}` as `a::b` and `a::c::d`.
fn expanded(tree: &str) -> Vec<String> {
    let tree = tree.trim();
    let Some((head, list)) = tree.split_once('{') else {
        let path = tree.split(" as ").next().unwrap().trim();
        return vec![path.to_owned()];
    };
    let list = &list[..list.rfind('}').unwrap_or(list.len())];
    let (mut paths, mut depth, mut item) = (Vec::new(), 0, String::new());
    for c in list.chars().chain([',']) {
        match c {
            ',' if depth == 0 => {
                let item = std::mem::take(&mut item);
                if !item.trim().is_empty() {
                    paths.extend(expanded(&item).iter().map(|path| format!("{head}{path}")));
                }
                continue;
            }
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        item.push(c);
    }
    paths
}

/// From the root of the library; `None`: another crate, or no path.
fn absolute(path: &str, module: &Module, all: &BTreeMap<Module, String>) -> Option<Module> {
    let names: Vec<&str> = path.split("::").filter(|name| !name.is_empty()).collect();
    let ups = names.iter().take_while(|name| **name == "super").count();
    let (mut base, rest) = match names.first()? {
        &"crate" => (Module::new(), &names[1..]),
        &"self" => (module.clone(), &names[1..]),
        &"super" => (
            module[..module.len().checked_sub(ups)?].to_vec(),
            &names[ups..],
        ),
        child => {
            let mut inner = module.clone();
            inner.push((*child).to_owned());
            if !all.contains_key(&inner) {
                return None;
            }
            (module.clone(), &names[..])
        }
    };
    base.extend(rest.iter().map(|name| (*name).to_owned()));
    Some(base)
}

/// The paths that stand in running code: `crate::…`, `super::…`, `child::…`.
fn in_running_code(code: &str) -> Vec<String> {
    let is_of_path = |c: char| c.is_alphanumeric() || matches!(c, '_' | ':');
    code.split(|c: char| !is_of_path(c))
        .filter(|word| word.contains("::") && !word.starts_with(':'))
        .map(|word| word.trim_end_matches(':').to_owned())
        .collect()
}

fn paths_of(module: &Module, all: &BTreeMap<Module, String>) -> Paths {
    let mut paths = Paths::default();
    let mut running = String::new();
    let mut lines = all[module].lines();
    while let Some(line) = lines.next() {
        let text = line.trim_start();
        let after_pub = match text.strip_prefix("pub") {
            Some(rest) if rest.starts_with('(') => rest.split_once(')').map(|(_, rest)| rest),
            Some(rest) => Some(rest),
            None => None,
        };
        let head = after_pub.unwrap_or(text).trim_start();
        let Some(tree) = head.strip_prefix("use ") else {
            running.push_str(line);
            running.push('\n');
            continue;
        };
        let mut tree = tree.to_owned();
        while !tree.contains(';') {
            tree.push_str(lines.next().unwrap_or(";"));
        }
        let tree = tree.split(';').next().unwrap_or_default();
        let found = expanded(tree)
            .into_iter()
            .filter_map(|path| absolute(&path, module, all));
        match after_pub {
            Some(_) => paths.passed_on.extend(found),
            None => paths.used.extend(found),
        }
    }
    let found = in_running_code(&running)
        .into_iter()
        .filter_map(|path| absolute(&path, module, all));
    paths.used.extend(found);
    paths
}

/// The file that has what a path names.
fn file_of(path: &[String], paths: &BTreeMap<Module, Paths>, depth: usize) -> Module {
    let inside = (0..=path.len())
        .rev()
        .find(|&n| paths.contains_key(&path[..n]))
        .unwrap_or(0);
    let (module, rest) = path.split_at(inside);
    if let (Some(item), true) = (rest.first(), depth < 8) {
        let passed = paths[module].passed_on.iter();
        let target = passed
            .filter(|other| other.as_slice() != path)
            .find(|other| other.last() == Some(item));
        if let Some(target) = target {
            let whole: Module = target.iter().chain(&rest[1..]).cloned().collect();
            return file_of(&whole, paths, depth + 1);
        }
    }
    module.to_vec()
}

/// Every file with those it uses.
fn graph() -> BTreeMap<Module, BTreeSet<Module>> {
    let all = modules();
    let paths: BTreeMap<Module, Paths> = all
        .keys()
        .map(|module| (module.clone(), paths_of(module, &all)))
        .collect();
    let mut graph = BTreeMap::new();
    for (module, own) in &paths {
        let used = own.used.iter().map(|path| file_of(path, &paths, 0));
        let others = used.filter(|other| other != module && !other.is_empty());
        graph.insert(module.clone(), others.collect());
    }
    graph
}

fn reached(from: &Module, graph: &BTreeMap<Module, BTreeSet<Module>>) -> BTreeSet<Module> {
    let mut found = BTreeSet::new();
    let mut open: Vec<&Module> = graph[from].iter().collect();
    while let Some(module) = open.pop() {
        if found.insert(module.clone()) {
            open.extend(&graph[module]);
        }
    }
    found
}

#[test]
fn no_file_uses_one_that_uses_it() {
    let graph = graph();
    let edges: usize = graph.values().map(BTreeSet::len).sum();
    assert!(edges > 1500, "the search itself found only {edges} uses");
    let reached: BTreeMap<&Module, BTreeSet<Module>> = graph
        .keys()
        .map(|module| (module, reached(module, &graph)))
        .collect();
    let mut circles = BTreeSet::new();
    for (module, below) in &reached {
        if below.contains(*module) {
            let circle = below
                .iter()
                .filter(|other| reached[other].contains(*module));
            circles.insert(circle.map(|m| m.join("/")).collect::<Vec<_>>());
        }
    }
    let is_allowed = |circle: &[String]| {
        ALLOWED.iter().any(|(folder, _)| {
            let inside = |file: &String| Path::new(file).starts_with(folder);
            circle.iter().all(inside)
        })
    };
    assert!(ALLOWED.len() <= 1, "one circle at most is allowed");
    circles.retain(|circle| !is_allowed(circle));
    assert!(circles.is_empty(), "{circles:#?}");
}

/// The search sees through braces, `super`, children and what a head passes on.
#[test]
fn the_search_finds_circles() {
    assert_eq!(
        expanded("a::{b, c::{d, e as f}}"),
        ["a::b", "a::c::d", "a::c::e"]
    );
    let text = [
        ("a", "pub use b::Item;\nmod b;\nmod c;"),
        ("a/b", "use super::c::other;\npub struct Item;"),
        ("a/c", "fn other() { crate::a::Item; }"),
        ("d", "use crate::a::{\n    Item,\n};"),
    ];
    let mut all: BTreeMap<Module, String> = text
        .iter()
        .map(|(module, code)| {
            let module = module.split('/').map(str::to_owned).collect();
            (module, (*code).to_owned())
        })
        .collect();
    all.insert(Module::new(), String::new());
    let paths: BTreeMap<Module, Paths> = all
        .keys()
        .map(|module| (module.clone(), paths_of(module, &all)))
        .collect();
    let uses = |module: &str| -> Vec<String> {
        let module: Module = module.split('/').map(str::to_owned).collect();
        let used = paths[&module].used.iter();
        used.map(|path| file_of(path, &paths, 0).join("/"))
            .collect()
    };
    assert_eq!(uses("a/b"), ["a/c"]);
    assert_eq!(uses("a/c"), ["a/b"]);
    assert_eq!(uses("d"), ["a/b"]);
    assert!(uses("a").is_empty());
}
