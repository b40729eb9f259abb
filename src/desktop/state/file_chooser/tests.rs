use super::*;

fn asked(folder: &Path, wanted: Wanted) -> (Context, FileChooser, Answer) {
    const KINDS: [FileKind; 2] = [
        FileKind {
            name: "Films",
            endings: &["png", "case.json"],
        },
        ALL_FILES,
    ];
    let ctx = Context::default();
    let question = Question {
        title: "Open",
        wanted,
        kinds: &KINDS,
        folder: Some(folder.to_owned()),
        name: String::new(),
    };
    let (mut chooser, answer) = FileChooser::ask(&ctx, question, FolderView::default());
    read_all(&mut chooser);
    (ctx, chooser, answer)
}

fn read_all(chooser: &mut FileChooser) {
    while chooser.is_reading() {
        std::thread::yield_now();
        chooser.poll();
    }
}

fn names(chooser: &FileChooser) -> Vec<&str> {
    let entries = chooser.entries().iter();
    entries.map(|entry| entry.name.as_str()).collect()
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, bytes) in [("b.png", 3), ("A.PNG", 2), ("c.txt", 1), (".x.png", 1)] {
        fs::write(folder.path().join(name), vec![0; bytes]).expect("writes");
    }
    fs::create_dir(folder.path().join("roots")).expect("made");
    fs::write(folder.path().join("roots/d.png"), b"").expect("writes");
    folder
}

#[test]
fn folders_come_first_other_kinds_and_hidden_files_not_at_all() {
    let folder = folder();
    let (_, mut chooser, _answer) = asked(folder.path(), Wanted::File);
    assert_eq!(names(&chooser), ["roots", "A.PNG", "b.png"]);
    chooser.sort_by(SortBy::Size);
    assert_eq!(names(&chooser), ["roots", "A.PNG", "b.png"]);
    chooser.sort_by(SortBy::Size);
    assert_eq!(names(&chooser), ["roots", "b.png", "A.PNG"]);
    chooser.choose_kind(1);
    chooser.show_hidden(true);
    chooser.sort_by(SortBy::Name);
    assert_eq!(
        names(&chooser),
        ["roots", ".x.png", "A.PNG", "b.png", "c.txt"]
    );
}

#[test]
fn a_name_begun_points_at_its_entry_and_enter_opens_folder_and_file() {
    let folder = folder();
    let (ctx, mut chooser, answer) = asked(folder.path(), Wanted::File);
    chooser.name = "ro".to_owned();
    chooser.typed();
    assert!(!chooser.accept(&ctx), "a folder is no answer");
    read_all(&mut chooser);
    assert_eq!(names(&chooser), ["d.png"]);
    chooser.go_up(&ctx);
    read_all(&mut chooser);
    assert_eq!(chooser.cursor, Some(0), "where one came from");
    chooser.move_cursor(1);
    assert!(chooser.accept(&ctx));
    assert_eq!(answer.wait(), [folder.path().join("A.PNG")]);
}

#[test]
fn what_is_not_there_is_said_and_what_is_there_is_asked_about() {
    let folder = folder();
    let (ctx, mut chooser, _answer) = asked(folder.path(), Wanted::File);
    chooser.name = "zzz.png".to_owned();
    chooser.typed();
    assert!(!chooser.accept(&ctx));
    assert!(
        chooser
            .fault
            .as_ref()
            .is_some_and(|fault| fault.contains("no such file"))
    );

    let new = Wanted::NewFile { ending: "png" };
    let (ctx, mut chooser, answer) = asked(folder.path(), new);
    chooser.name = "b".to_owned();
    chooser.typed();
    assert!(!chooser.accept(&ctx), "it is there");
    let there = folder.path().join("b.png");
    assert_eq!(chooser.asking, Some(Asking::Replace(there.clone())));
    assert!(chooser.replace());
    assert_eq!(answer.wait(), [there]);
}

#[test]
fn a_folder_can_be_made_and_chosen() {
    let folder = folder();
    let (ctx, mut chooser, answer) = asked(folder.path(), Wanted::Folder);
    chooser.asking = Some(Asking::NewFolder("a/b".to_owned()));
    chooser.make_folder(&ctx);
    assert!(chooser.fault.is_some());
    chooser.asking = Some(Asking::NewFolder("sheets".to_owned()));
    chooser.make_folder(&ctx);
    read_all(&mut chooser);
    assert!(chooser.accept(&ctx));
    assert_eq!(answer.wait(), [folder.path().join("sheets")]);
}

#[test]
fn several_files_are_marked_and_a_question_put_aside_has_no_answer() {
    let folder = folder();
    let (ctx, mut chooser, answer) = asked(folder.path(), Wanted::Files);
    chooser.point_at(1);
    chooser.toggle(2);
    assert!(chooser.accept(&ctx));
    let both = ["A.PNG", "b.png"].map(|name| folder.path().join(name));
    assert_eq!(answer.wait(), both);
    let (_, chooser, answer) = asked(folder.path(), Wanted::File);
    drop(chooser);
    assert!(answer.wait().is_empty());
}

#[test]
fn endings_are_added_once() {
    let named = |path: &str, ending| with_ending(path.into(), ending);
    assert_eq!(named("/a/x", "pdf"), PathBuf::from("/a/x.pdf"));
    assert_eq!(named("/a/x.PDF", "pdf"), PathBuf::from("/a/x.PDF"));
    assert_eq!(named("/a/x", "case.json"), PathBuf::from("/a/x.case.json"));
    assert_eq!(named("/a/x.json", "case.json"), PathBuf::from("/a/x.json"));
}
