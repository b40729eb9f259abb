//! Work beside the window that nobody has ordered in so many words: recovery
//! copies, intervals, the locally raised film, suggestions.

use std::sync::Arc;

use egui::Context;

use super::DesktopApp;
use super::files::snapshot_of;
use super::job_result::JobResult;
use crate::desktop::state::jobs::JobName;
use crate::desktop::state::long_job::{LongJob, QUIET_TIME};
use crate::desktop::state::offers;
use crate::desktop::state::reading::detector_mm_per_px;
use crate::desktop::state::recovery;
use crate::desktop::state::session::Grip;
use crate::desktop::view::{Pyramid, locally_raised};

impl DesktopApp {
    /// Keeps a copy of unsaved work, once no drag is under way.
    pub(super) fn autosave(&mut self, ctx: &Context) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        let revision = workspace.document.revision();
        if revision == self.autosaved_revision || self.session.grip != Grip::None {
            return;
        }
        if !workspace.document.is_unsaved() {
            self.recovery.clear();
            self.autosaved_revision = revision;
            return;
        }
        let Some(copy) = self.recovery.copy_path() else {
            return;
        };
        let snapshot = snapshot_of(workspace);
        let started = self.jobs.start(ctx, JobName::Autosave, move || {
            JobResult::Autosaved(recovery::write_copy(&copy, &snapshot))
        });
        if started {
            self.autosaved_revision = revision;
        }
    }

    pub(super) fn prepare_local_contrast(&mut self, ctx: &Context) {
        let Some(workspace) = &self.workspace else {
            return;
        };
        if workspace.show_local_contrast && workspace.local_tiles.is_none() {
            let film = Arc::clone(&workspace.film.film);
            let of = Arc::clone(&workspace.film.pyramid);
            self.jobs.start(ctx, JobName::LocalContrast, move || {
                JobResult::LocalContrast {
                    of,
                    local: locally_raised(&film).map(|raised| {
                        let pyramid = Arc::new(Pyramid::new(&raised));
                        (Arc::new(raised), pyramid)
                    }),
                }
            });
        }
    }

    /// Begins what assisting clicks have asked for, once earlier work has
    /// stopped.
    pub(super) fn assist(&mut self, ctx: &Context) {
        if self.jobs.is_running(JobName::Assist) {
            return;
        }
        let Some(workspace) = &self.workspace else {
            return;
        };
        let Some(request) = self.session.assist_request.take() else {
            return;
        };
        let running = LongJob::begin("Looking at the film");
        let waker = ctx.clone();
        let measured = workspace.last_reading().findings.scale.mm_per_px;
        let scale = detector_mm_per_px(workspace.document.case(), &workspace.film, measured);
        let work = request.work(running.clone(), &workspace.film, scale, move || {
            waker.request_repaint();
        });
        let revision = workspace.document.revision();
        let of = Arc::clone(&workspace.film.pyramid);
        let started = self
            .jobs
            .start(ctx, JobName::Assist, move || JobResult::Suggested {
                revision,
                of,
                found: work(),
            });
        if started {
            self.session.assisting = Some(running);
            ctx.request_repaint_after(QUIET_TIME);
        }
    }

    /// Looks over a film nobody has measured yet, once an earlier look has
    /// stopped.
    pub(super) fn look_over(&mut self, ctx: &Context) {
        if !self.session.wants_look || self.jobs.is_running(JobName::Look) {
            return;
        }
        let Some(workspace) = &self.workspace else {
            return;
        };
        self.session.wants_look = false;
        let running = LongJob::begin("Looking at the film");
        let measured = workspace.last_reading().findings.scale.mm_per_px;
        let scale = detector_mm_per_px(workspace.document.case(), &workspace.film, measured);
        let work = offers::look(running.clone(), &workspace.film, scale);
        let of = Arc::clone(&workspace.film.pyramid);
        let started = self.jobs.start(ctx, JobName::Look, move || {
            let found = work();
            JobResult::LookedOver { of, found }
        });
        self.session.looking = started.then_some(running);
    }

    /// Once the pointer is still, the live intervals give way to drawn ones.
    pub(super) fn refine_intervals(&mut self, ctx: &Context) {
        let dragging = ctx.input(|input| input.pointer.any_down());
        let Some(workspace) = self.workspace.as_ref().filter(|_| !dragging) else {
            return;
        };
        if self.jobs.is_running(JobName::Intervals) {
            return;
        }
        if let Some((revision, read)) = workspace.refinement() {
            let of = Arc::clone(&workspace.film.pyramid);
            self.jobs
                .start(ctx, JobName::Intervals, move || JobResult::Refined {
                    revision,
                    of,
                    reading: Box::new(read()),
                });
        }
    }
}
